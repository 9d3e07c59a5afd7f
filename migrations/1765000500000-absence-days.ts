import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index } from "./tables.js";

/** Who takes over from somebody who is away, since when she is, and when that is to be looked at again. */
export class AbsenceDays1765000500000 implements MigrationInterface {
	readonly name = "AbsenceDays1765000500000";

	async up(runner: QueryRunner): Promise<void> {
		await addColumns(runner, "absence", { to_id: "text? > person", began_at_ms: "instant?", next_at_ms: "instant?" });
		await index(runner, "absence", "absence_next", ["next_at_ms"], { where: "next_at_ms IS NOT NULL" });
		// Who is away already comes back as it was agreed on then: by hand.
		await runner.query(
			"UPDATE absence SET began_at_ms = recorded_at_ms WHERE returned_at_ms IS NULL AND person_id IN (SELECT id FROM person WHERE NOT active)",
		);
		await runner.query("UPDATE absence SET next_at_ms = 0 WHERE returned_at_ms IS NULL AND began_at_ms IS NULL");
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropIndex("absence", "absence_next");
		await dropColumns(runner, "absence", ["to_id", "began_at_ms", "next_at_ms"]);
	}
}
