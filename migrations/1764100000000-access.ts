import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** Who may sign in, with what, from where, and what keys there are. */
export class Access1764100000000 implements MigrationInterface {
	readonly name = "Access1764100000000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "account", {
			id: "text key",
			login: "text",
			person_id: "text? > person",
			administrator: "flag",
			active: "flag",
			password_hash: "text?",
			password_set_at_ms: "instant?",
			totp_secret: "text?",
			totp_since_ms: "instant?",
			totp_last_step: "instant?",
			created_at_ms: "instant",
		});
		await index(runner, "account", "account_login", ["login"], { isUnique: true });
		await index(runner, "account", "account_person", ["person_id"], { isUnique: true, where: "person_id IS NOT NULL" });
		await table(runner, "recovery_code", { id: "text key", account_id: "text > account", used_at_ms: "instant?" });
		await index(runner, "recovery_code", "recovery_code_account", ["account_id"]);
		await table(runner, "session", {
			id: "text key",
			token_hash: "text",
			account_id: "text? > account",
			person_id: "text? > person",
			began_at_ms: "instant",
			proved_at_ms: "instant",
			used_at_ms: "instant",
			ends_at_ms: "instant",
			device: "text?",
		});
		await index(runner, "session", "session_token", ["token_hash"], { isUnique: true });
		await index(runner, "session", "session_account", ["account_id"]);
		await index(runner, "session", "session_person", ["person_id"]);
		await index(runner, "session", "session_ends", ["ends_at_ms"]);
		await table(runner, "sign_in_code", {
			id: "text key",
			person_id: "text > person",
			code_hash: "text",
			message_id: "text",
			tries: "whole",
			made_at_ms: "instant",
			ends_at_ms: "instant",
		});
		await index(runner, "sign_in_code", "sign_in_code_person", ["person_id", "made_at_ms"]);
		await table(runner, "account_link", {
			id: "text key",
			account_id: "text > account",
			message_id: "text?",
			made_at_ms: "instant",
			ends_at_ms: "instant",
		});
		await index(runner, "account_link", "account_link_account", ["account_id"]);
		await table(runner, "api_key", {
			id: "text key",
			name: "text",
			key_hash: "text",
			scopes: "text",
			area_id: "text? > area",
			made_by: "text",
			made_at_ms: "instant",
			ends_at_ms: "instant",
			used_at_ms: "instant?",
			revoked_at_ms: "instant?",
		});
		await index(runner, "api_key", "api_key_hash", ["key_hash"], { isUnique: true });
		await table(runner, "known_device", { id: "text key", account_id: "text > account", used_at_ms: "instant" });
		await index(runner, "known_device", "known_device_account", ["account_id"]);
		await table(runner, "throttle", { id: "text key", count: "whole", until_ms: "instant" });
		await index(runner, "throttle", "throttle_until", ["until_ms"]);
		await table(runner, "area_duty", { person_id: "text key > person", area_id: "text key > area" });
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of [
			"area_duty",
			"throttle",
			"known_device",
			"api_key",
			"account_link",
			"sign_in_code",
			"session",
			"recovery_code",
			"account",
		])
			await runner.dropTable(name);
	}
}
