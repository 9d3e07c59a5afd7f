import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** By what strength a jar's keeper was last told her doses, and when she is told anew. */
export class DoseTold1764700000000 implements MigrationInterface {
	readonly name = "DoseTold1764700000000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "dose_told", { batch_id: "text key > batch", told_g_per_l: "real?", due_at_ms: "instant?" });
		await index(runner, "dose_told", "dose_told_due", ["due_at_ms"], { where: "due_at_ms IS NOT NULL" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("dose_told");
	}
}
