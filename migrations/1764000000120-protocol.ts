import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** Written protocols by version, and which household follows which. */
export class Protocol1764000000120 implements MigrationInterface {
	readonly name = "Protocol1764000000120";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "protocol_version", {
			id: "text key",
			code: "text",
			version: "whole",
			title: "text",
			body: "text",
			findings: "text",
			accepted_at_ms: "instant",
		});
		await index(runner, "protocol_version", "protocol_version_once", ["code", "version"], { isUnique: true });
		await table(runner, "household_protocol", {
			household_id: "text key > household",
			protocol_version_id: "text > protocol_version",
			since_ms: "instant",
		});
		await index(runner, "household_protocol", "household_protocol_version", ["protocol_version_id"]);
		await table(runner, "protocol_default", {
			id: "text key",
			protocol_version_id: "text > protocol_version",
			since_ms: "instant",
		});
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of ["protocol_default", "household_protocol", "protocol_version"]) await runner.dropTable(name);
	}
}
