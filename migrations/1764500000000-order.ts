import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index } from "./tables.js";

/** Since when a message could have gone: by it the order for one person is kept, and what has waited for too long is found. */
export class Order1764500000000 implements MigrationInterface {
	readonly name = "Order1764500000000";

	async up(runner: QueryRunner): Promise<void> {
		await addColumns(runner, "message", { ready_at_ms: "instant?", waits_since_ms: "instant?" });
		await runner.query(
			"UPDATE message SET ready_at_ms = created_at_ms, waits_since_ms = created_at_ms WHERE next_try_at_ms IS NOT NULL",
		);
		for (const { name, where } of READY) {
			await runner.query(`DROP INDEX ${name}`);
			await index(runner, "message", name, ["next_try_at_ms", "id"], { where });
		}
		await index(runner, "message", "message_order", ["recipient_id", "ready_at_ms"], { where: "next_try_at_ms IS NOT NULL" });
		await index(runner, "message", "message_waiting", ["ready_at_ms"], { where: "state = 'waiting' AND NOT urgent" });
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of ["message_waiting", "message_order"]) await runner.query(`DROP INDEX ${name}`);
		for (const { name, where } of READY) {
			await runner.query(`DROP INDEX ${name}`);
			await index(runner, "message", name, ["next_try_at_ms"], { where });
		}
		await dropColumns(runner, "message", ["ready_at_ms", "waits_since_ms"]);
	}
}

const READY = [
	{ name: "message_ready", where: "next_try_at_ms IS NOT NULL" },
	{ name: "message_urgent", where: "urgent AND next_try_at_ms IS NOT NULL" },
] as const;
