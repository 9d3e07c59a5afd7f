import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** What was answered to requests that bore a key of their own, so that the same request again is answered alike. */
export class IdempotencyKeys1764000000210 implements MigrationInterface {
	readonly name = "IdempotencyKeys1764000000210";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "idempotency_key", {
			id: "text key",
			fingerprint: "text?",
			lease_until_ms: "instant?",
			keep_until_ms: "instant",
			status: "whole?",
			answer: "text?",
		});
		await index(runner, "idempotency_key", "idempotency_key_keep", ["keep_until_ms"]);
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("idempotency_key");
	}
}
