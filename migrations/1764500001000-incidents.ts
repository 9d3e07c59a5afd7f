import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** What went wrong, from when it was found until it is settled; what was dosed from a jar is found. */
export class Incidents1764500001000 implements MigrationInterface {
	readonly name = "Incidents1764500001000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "incident", {
			id: "text key",
			kind: "text",
			cause_id: "text",
			subject_kind: "text",
			subject_id: "text",
			area_id: "text > area",
			happened_at_ms: "instant",
			opened_at_ms: "instant",
			state: "text",
			found: "text",
			told_at_ms: "instant?",
			looked_into_at_ms: "instant?",
			looked_into_by: "text?",
			closed_at_ms: "instant?",
			closed_by: "text?",
			closed_because: "text?",
		});
		await index(runner, "incident", "incident_cause", ["kind", "cause_id"], { isUnique: true });
		await index(runner, "incident", "incident_open", ["kind", "subject_id"], { isUnique: true, where: "state <> 'closed'" });
		await index(runner, "incident", "incident_area", ["area_id", "opened_at_ms"]);
		await index(runner, "incident", "incident_untold", ["area_id"], { where: "told_at_ms IS NULL" });
		await index(runner, "dose", "dose_batch", ["batch_id", "dosed_at_ms"]);
		await table(runner, "incident_look", { kind: "text key", until_ms: "instant" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.query("DROP INDEX dose_batch");
		await runner.dropTable("incident_look");
		await runner.dropTable("incident");
	}
}
