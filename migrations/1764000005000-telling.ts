import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index, table } from "./tables.js";

/** What a message cost, which message told of a task together with others, what is held back, holidays, and calendars to subscribe to. */
export class Telling1764000005000 implements MigrationInterface {
	readonly name = "Telling1764000005000";

	async up(runner: QueryRunner): Promise<void> {
		for (const [on, columns] of Object.entries(ADDED)) await addColumns(runner, on, columns);
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
		for (const [on, columns] of Object.entries(ADDED)) await dropColumns(runner, on, Object.keys(columns));
	}
}

const ADDED = {
	message: {
		segments: "whole?",
		encoding: "text?",
		held_until_ms: "instant?",
		held_because: "text?",
		digest_id: "text?",
		channels: "text?",
	},
	task: {
		ladder_from_ms: "instant?",
		put_off_times: "whole?",
		acknowledged_at_ms: "instant?",
		acknowledged_by_id: "text?",
	},
};
