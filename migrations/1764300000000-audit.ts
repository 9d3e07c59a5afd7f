import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** Finds what was moved since a past period ended; independent samples, their visits and what was found. */
export class Audit1764300000000 implements MigrationInterface {
	readonly name = "Audit1764300000000";

	async up(runner: QueryRunner): Promise<void> {
		await index(runner, "ledger_entry", "ledger_household_assigned", ["at_ms", "subject_id"], {
			where: "action = 'household assigned'",
		});
		await table(runner, "audit_sample", {
			id: "text key",
			area_id: "text > area",
			drawn_at_ms: "instant",
			seed: "text",
			method: "text",
			frame_sha256: "text",
			frame_households: "whole",
			plan: "text",
			reported_from: "text",
			reported_to: "text",
		});
		await index(runner, "audit_sample", "audit_sample_area", ["area_id"]);
		await table(runner, "audit_frame", { sample_id: "text key > audit_sample", lines: "text" });
		await table(runner, "audit_visit", {
			id: "text key",
			sample_id: "text > audit_sample",
			household_id: "text > household",
			place: "whole",
			cluster: "whole?",
			auditor_id: "text > person",
		});
		await index(runner, "audit_visit", "audit_visit_once", ["sample_id", "household_id"], { isUnique: true });
		await index(runner, "audit_visit", "audit_visit_auditor", ["auditor_id"]);
		await table(runner, "audit_result", {
			id: "text key",
			visit_id: "text > audit_visit",
			outcome: "text",
			visited_at_ms: "instant",
			recorded_at_ms: "instant",
			by_person_id: "text > person",
			free_chlorine_mg_per_l: "real?",
			treated: "flag?",
			container_seen: "flag?",
			because: "text?",
		});
		await index(runner, "audit_result", "audit_result_visit", ["visit_id", "recorded_at_ms"]);
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of ["audit_result", "audit_visit", "audit_frame", "audit_sample"]) await runner.dropTable(name);
		await runner.query("DROP INDEX ledger_household_assigned");
	}
}
