import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** People and places, jars and tests, due work and what is told of it. */
export class Beginning1764000000000 implements MigrationInterface {
	readonly name = "Beginning1764000000000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "area", {
			id: "text key",
			parent_id: "text? > area",
			code: "text",
			name: "text",
			time_zone: "text",
			latitude_deg: "real",
			longitude_deg: "real",
			altitude_m: "real",
			climate: "text",
		});
		await index(runner, "area", "area_code", ["code"], { isUnique: true });
		await table(runner, "person", {
			id: "text key",
			code: "text",
			role: "text",
			name: "text",
			phone_e164: "text?",
			language: "text",
			area_id: "text > area",
			supervisor_id: "text? > person",
			working_days: "text",
			quiet_from: "text",
			quiet_until: "text",
			channels: "text",
			active: "flag",
			opted_out_at_ms: "instant?",
		});
		await index(runner, "person", "person_area", ["area_id"]);
		await index(runner, "person", "person_code", ["code"], { isUnique: true });
		await index(runner, "person", "person_phone", ["phone_e164"]);
		await table(runner, "household", {
			id: "text key",
			code: "text",
			area_id: "text > area",
			volunteer_id: "text? > person",
			persons: "whole",
			water_source: "text",
			turbidity: "text",
			latitude_deg: "real?",
			longitude_deg: "real?",
		});
		await index(runner, "household", "household_area", ["area_id"]);
		await index(runner, "household", "household_code", ["code"], { isUnique: true });
		await index(runner, "household", "household_volunteer", ["volunteer_id"]);
		await table(runner, "container", {
			id: "text key",
			code: "text",
			household_id: "text > household",
			volume_l: "real",
			kind: "text",
			last_cleaned_on: "text?",
		});
		await index(runner, "container", "container_code", ["code"], { isUnique: true });
		await index(runner, "container", "container_household", ["household_id"]);
		await table(runner, "programme", {
			id: "text key",
			name: "text",
			policy: "text",
			changed_at_ms: "instant",
		});
		await table(runner, "due", {
			kind: "text key",
			subject_id: "text key",
			area_id: "text > area",
			due_at_ms: "instant?",
			cycle: "whole",
		});
		await index(runner, "due", "due_at", ["due_at_ms"], { where: "due_at_ms IS NOT NULL" });
		await table(runner, "import_file", {
			id: "text key",
			kind: "text",
			sha256: "text",
			rows: "whole",
			imported_at_ms: "instant",
		});
		await index(runner, "import_file", "import_file_once", ["kind", "sha256"], { isUnique: true });
		await table(runner, "generator", {
			id: "text key",
			code: "text",
			name: "text",
			area_id: "text > area",
			rated_current_a: "real",
			cells_in_series: "whole",
			current_efficiency: "real",
			batch_volume_l: "real",
			salt_g_per_l: "real",
			in_service: "flag",
		});
		await index(runner, "generator", "generator_code", ["code"], { isUnique: true });
		await table(runner, "batch", {
			id: "text key",
			code: "text",
			generator_id: "text? > generator",
			area_id: "text > area",
			keeper_id: "text? > person",
			made_at_ms: "instant",
			volume_l: "real",
			made_strength_g_per_l: "real",
			made_strength_ln_sd: "real",
			salt_g_per_l: "real",
			ph: "real?",
			ph_knowledge: "text",
			wall: "text",
			exposure: "text",
			lit_area_m2: "real",
			state: "text",
			forecast: "text?",
		});
		await index(runner, "batch", "batch_area", ["area_id"]);
		await index(runner, "batch", "batch_code", ["code"], { isUnique: true });
		await index(runner, "batch", "batch_keeper", ["keeper_id"]);
		await table(runner, "strength_test", {
			id: "text key",
			batch_id: "text > batch",
			tested_at_ms: "instant",
			recorded_at_ms: "instant",
			tester_id: "text? > person",
			kit: "text",
			sample_ml: "real",
			made_up_to_l: "real",
			reading: "text",
			low_g_per_l: "real",
			high_g_per_l: "real?",
			task_id: "text?",
			flags: "text",
		});
		await index(runner, "strength_test", "strength_test_batch", ["batch_id"]);
		await table(runner, "dose", {
			id: "text key",
			container_id: "text > container",
			batch_id: "text > batch",
			dosed_at_ms: "instant",
			water_l: "real",
			bleach_ml: "real",
			dose_mg_per_l: "real",
		});
		await index(runner, "dose", "dose_container", ["container_id"]);
		await table(runner, "residual_check", {
			id: "text key",
			container_id: "text > container",
			checked_at_ms: "instant",
			free_chlorine_mg_per_l: "real",
			hours_since_dose: "real?",
			checker_id: "text? > person",
		});
		await index(runner, "residual_check", "residual_check_container", ["container_id"]);
		await table(runner, "task", {
			id: "text key",
			code: "text",
			kind: "text",
			subject_id: "text",
			cycle: "whole",
			area_id: "text > area",
			assignee_id: "text? > person",
			state: "text",
			due_at_ms: "instant",
			opened_at_ms: "instant",
			brief: "text",
			ladder_step: "whole",
			next_step_at_ms: "instant?",
			closed_at_ms: "instant?",
			closed_by_id: "text? > person",
			outcome: "text?",
		});
		await index(runner, "task", "task_assignee", ["assignee_id", "state"]);
		await index(runner, "task", "task_code", ["code"]);
		await index(runner, "task", "task_one_open", ["kind", "subject_id"], { isUnique: true, where: "state = 'open'" });
		await index(runner, "task", "task_code_open", ["code"], { isUnique: true, where: "state = 'open'" });
		await index(runner, "task", "task_next_step", ["next_step_at_ms"], { where: "next_step_at_ms IS NOT NULL" });
		await index(runner, "task", "task_once", ["kind", "subject_id", "cycle"], { isUnique: true });
		await table(runner, "message", {
			id: "text key",
			idempotency_key: "text",
			task_id: "text?",
			recipient_id: "text > person",
			text: "text",
			fill: "text",
			urgent: "flag",
			state: "text",
			created_at_ms: "instant",
			next_try_at_ms: "instant?",
			claim: "whole",
			tries: "whole",
			channel: "text?",
			ended_at_ms: "instant?",
			answer: "text?",
		});
		await index(runner, "message", "message_key", ["idempotency_key"], { isUnique: true });
		await index(runner, "message", "message_ready", ["next_try_at_ms"], { where: "next_try_at_ms IS NOT NULL" });
		await index(runner, "message", "message_recipient", ["recipient_id", "created_at_ms"]);
		await index(runner, "message", "message_task", ["task_id"]);
		await table(runner, "message_failure", {
			id: "text key",
			message_id: "text > message",
			failed_at_ms: "instant",
			channel: "text",
			for_good: "flag",
			reason: "text",
		});
		await index(runner, "message_failure", "message_failure_message", ["message_id"]);
		await table(runner, "reply", {
			id: "text key",
			channel: "text",
			channel_message_id: "text",
			from_address: "text",
			body: "text",
			received_at_ms: "instant",
			person_id: "text? > person",
			task_id: "text?",
			outcome: "text",
			answer: "text?",
		});
		await index(runner, "reply", "reply_once", ["channel", "channel_message_id"], { isUnique: true });
		await index(runner, "reply", "reply_person", ["person_id"]);
		await table(runner, "ledger_entry", {
			id: "text key",
			at_ms: "instant",
			actor: "text",
			action: "text",
			subject_kind: "text",
			subject_id: "text",
			area_id: "text?",
			detail: "text",
		});
		await index(runner, "ledger_entry", "ledger_at", ["at_ms"]);
		await index(runner, "ledger_entry", "ledger_subject", ["subject_kind", "subject_id"]);
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of TABLES.toReversed()) await runner.dropTable(name);
	}
}

const TABLES = [
	"area",
	"person",
	"household",
	"container",
	"programme",
	"due",
	"import_file",
	"generator",
	"batch",
	"strength_test",
	"dose",
	"residual_check",
	"task",
	"message",
	"message_failure",
	"reply",
	"ledger_entry",
];
