import type { MigrationInterface, QueryRunner } from "typeorm";
import { index } from "./tables.js";

/** What a monitoring system asks for every few seconds is read from indexes of its own. */
export class Watched1764000000200 implements MigrationInterface {
	readonly name = "Watched1764000000200";

	async up(runner: QueryRunner): Promise<void> {
		await index(runner, "message", "message_ended", ["ended_at_ms", "state", "channel"], { where: "ended_at_ms IS NOT NULL" });
		await index(runner, "task", "task_open_due", ["due_at_ms"], { where: "state = 'open'" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropIndex("task", "task_open_due");
		await runner.dropIndex("message", "message_ended");
	}
}
