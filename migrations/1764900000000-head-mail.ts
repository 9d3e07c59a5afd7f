import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** Heads of the ledger go out by mail, each letter until the mail server has taken it. */
export class HeadMail1764900000000 implements MigrationInterface {
	readonly name = "HeadMail1764900000000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "head_letter", {
			id: "text key",
			anchor_id: "text > ledger_anchor",
			address: "text",
			state: "text",
			tries: "whole",
			next_at_ms: "instant",
			ended_at_ms: "instant?",
		});
		await index(runner, "head_letter", "head_letter_waiting", ["next_at_ms"], { where: "state = 'waiting'" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("head_letter");
	}
}
