import type { MigrationInterface, QueryRunner } from "typeorm";
import { index } from "./tables.js";

/**
 * Codes are drawn at random and instants come in any order: each index of them is touched at as many places as tasks are opened.
 * A new task's code is written into one index alone, that of open ones, and the oldest one's instant is read with the counts.
 */
export class TaskCode1765000000000 implements MigrationInterface {
	readonly name = "TaskCode1765000000000";

	async up(runner: QueryRunner): Promise<void> {
		await runner.dropIndex("task", "task_code");
		await runner.dropIndex("task", "task_open_due");
		await index(runner, "task", "task_code_closed", ["code"], { where: "state <> 'open'" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropIndex("task", "task_code_closed");
		await index(runner, "task", "task_open_due", ["due_at_ms"], { where: "state = 'open'" });
		await index(runner, "task", "task_code", ["code"]);
	}
}
