import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index, table } from "./tables.js";

/** What people have consented to, who was erased, and what was cleared because its time was over. */
export class Consent1764200001000 implements MigrationInterface {
	readonly name = "Consent1764200001000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "consent", {
			id: "text key",
			person_id: "text > person",
			purpose: "text",
			text_version: "text",
			obtained: "text",
			given_at_ms: "instant",
			recorded_at_ms: "instant",
			withdrawn_at_ms: "instant?",
			withdrawn_by: "text?",
		});
		await index(runner, "consent", "consent_person", ["person_id"]);
		await index(runner, "consent", "consent_one", ["person_id", "purpose"], { isUnique: true, where: "withdrawn_at_ms IS NULL" });
		await addColumns(runner, "person", ADDED);
		await table(runner, "clearing", { id: "text key", at_ms: "instant", until: "text", cleared: "text" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("clearing");
		await dropColumns(runner, "person", Object.keys(ADDED));
		await runner.dropTable("consent");
	}
}

const ADDED = { consented_at_ms: "instant?", erased_at_ms: "instant?" };
