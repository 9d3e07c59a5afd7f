import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** What a message cost, which message told of a task together with others, what is held back, holidays, and calendars to subscribe to. */
export class Telling1764000005000 implements MigrationInterface {
	readonly name = "Telling1764000005000";

	async up(runner: QueryRunner): Promise<void> {
		// Said in SQL: on SQLite the ORM would make the whole table anew, and lose what hangs on it.
		for (const [on, name, type] of ADDED) await runner.query(`ALTER TABLE ${on} ADD COLUMN ${name} ${type}`);
		await index(runner, "message", "message_held", ["held_until_ms"], { where: "held_until_ms IS NOT NULL" });
		await index(runner, "message", "message_digest", ["digest_id"], { where: "digest_id IS NOT NULL" });
		await table(runner, "holiday", {
			id: "text key",
			code: "text",
			area_id: "text > area",
			on_date: "text",
			name: "text",
		});
		await index(runner, "holiday", "holiday_code", ["code"], { isUnique: true });
		await index(runner, "holiday", "holiday_area", ["area_id", "on_date"]);
		await table(runner, "calendar_feed", {
			id: "text key",
			person_id: "text > person",
			token_sha256: "text",
			issued_at_ms: "instant",
			revoked_at_ms: "instant?",
		});
		await index(runner, "calendar_feed", "calendar_feed_token", ["token_sha256"], { isUnique: true });
		await index(runner, "calendar_feed", "calendar_feed_person", ["person_id"]);
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of ["calendar_feed", "holiday"]) await runner.dropTable(name);
		for (const name of ["message_digest", "message_held"]) await runner.query(`DROP INDEX ${name}`);
		for (const [on, name] of ADDED.toReversed()) await runner.query(`ALTER TABLE ${on} DROP COLUMN ${name}`);
	}
}

const ADDED: readonly (readonly [table: string, column: string, type: string])[] = [
	["message", "segments", "integer"],
	["message", "encoding", "text"],
	["message", "held_until_ms", "bigint"],
	["message", "held_because", "text"],
	["message", "digest_id", "text"],
	["message", "channels", "text"],
	["task", "ladder_from_ms", "bigint"],
	["task", "put_off_times", "integer"],
	["task", "acknowledged_at_ms", "bigint"],
	["task", "acknowledged_by_id", "text"],
];
