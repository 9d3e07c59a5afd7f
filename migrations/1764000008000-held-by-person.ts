import type { MigrationInterface, QueryRunner } from "typeorm";
import { index } from "./tables.js";

/** What is held for a person is found at once, however much is held for others. */
export class HeldByPerson1764000008000 implements MigrationInterface {
	readonly name = "HeldByPerson1764000008000";

	async up(runner: QueryRunner): Promise<void> {
		await index(runner, "message", "message_held_person", ["recipient_id", "held_until_ms"], {
			where: "held_until_ms IS NOT NULL",
		});
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.query("DROP INDEX message_held_person");
	}
}
