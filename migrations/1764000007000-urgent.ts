import type { MigrationInterface, QueryRunner } from "typeorm";
import { index } from "./tables.js";

/** Urgent messages are found at once, however many others are ready. */
export class Urgent1764000007000 implements MigrationInterface {
	readonly name = "Urgent1764000007000";

	async up(runner: QueryRunner): Promise<void> {
		await index(runner, "message", "message_urgent", ["next_try_at_ms"], { where: "urgent AND next_try_at_ms IS NOT NULL" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.query("DROP INDEX message_urgent");
	}
}
