import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index, table } from "./tables.js";

/** Who runs a generator and where it stands; its runs, its care, its batteries; test reagents and testers who disagree. */
export class Generators1764000003000 implements MigrationInterface {
	readonly name = "Generators1764000003000";

	async up(runner: QueryRunner): Promise<void> {
		await addColumns(runner, "generator", ADDED);
		await battery(runner);
		await table(runner, "generator_run", {
			id: "text key",
			code: "text",
			generator_id: "text > generator",
			operator_id: "text? > person",
			started_at_ms: "instant",
			ended_at_ms: "instant?",
			recorded_at_ms: "instant",
			salt_g: "real",
			water_l: "real",
			power_source: "text",
			battery_id: "text? > battery",
			current_a: "real?",
			rest_voltage_v: "real?",
			gas_seen: "flag?",
			batch_id: "text? > batch",
			further_of_run_id: "text? > generator_run",
		});
		await index(runner, "generator_run", "generator_run_code", ["code"], { isUnique: true });
		await index(runner, "generator_run", "generator_run_generator", ["generator_id", "started_at_ms"]);
		await index(runner, "generator_run", "generator_run_one_going_on", ["generator_id"], {
			isUnique: true,
			where: "ended_at_ms IS NULL",
		});
		await index(runner, "generator_run", "generator_run_battery", ["battery_id"]);
		await index(runner, "generator_run", "generator_run_batch", ["batch_id"]);
		await index(runner, "generator_run", "generator_run_first", ["further_of_run_id"]);
		await care(runner);
		await kits(runner);
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of TABLES.toReversed()) await runner.dropTable(name);
		await dropColumns(runner, "generator", Object.keys(ADDED));
	}
}

const ADDED = { operator_id: "text? > person", latitude_deg: "real?", longitude_deg: "real?" };

const TABLES = [
	"battery",
	"battery_reading",
	"battery_care",
	"generator_run",
	"generator_care",
	"generator_outage",
	"kit_lot",
	"kit_comparison",
];

async function battery(runner: QueryRunner): Promise<void> {
	await table(runner, "battery", {
		id: "text key",
		code: "text",
		area_id: "text > area",
		generator_id: "text? > generator",
		rated_ah: "real",
		rated_hours: "real",
		peukert_exponent: "real",
		in_use: "flag",
		since_ms: "instant",
	});
	await index(runner, "battery", "battery_code", ["code"], { isUnique: true });
	await index(runner, "battery", "battery_generator", ["generator_id"]);
	await table(runner, "battery_reading", {
		id: "text key",
		battery_id: "text > battery",
		read_at_ms: "instant",
		recorded_at_ms: "instant",
		rest_voltage_v: "real",
		rest_hours: "real",
		reader_id: "text? > person",
		task_id: "text?",
	});
	await index(runner, "battery_reading", "battery_reading_battery", ["battery_id", "read_at_ms"]);
	await table(runner, "battery_care", {
		id: "text key",
		battery_id: "text > battery",
		work: "text",
		done_at_ms: "instant",
		recorded_at_ms: "instant",
		by_person_id: "text? > person",
		task_id: "text?",
	});
	await index(runner, "battery_care", "battery_care_battery", ["battery_id", "done_at_ms"]);
}

async function care(runner: QueryRunner): Promise<void> {
	await table(runner, "generator_care", {
		id: "text key",
		generator_id: "text > generator",
		work: "text",
		done_at_ms: "instant",
		recorded_at_ms: "instant",
		by_person_id: "text? > person",
		task_id: "text?",
		look: "text?",
	});
	await index(runner, "generator_care", "generator_care_generator", ["generator_id", "done_at_ms"]);
	await table(runner, "generator_outage", {
		id: "text key",
		generator_id: "text > generator",
		from_ms: "instant",
		until_ms: "instant?",
		reason: "text",
		recorded_at_ms: "instant",
		by_person_id: "text? > person",
	});
	await index(runner, "generator_outage", "generator_outage_generator", ["generator_id"]);
	await index(runner, "generator_outage", "generator_outage_open", ["generator_id"], {
		isUnique: true,
		where: "until_ms IS NULL",
	});
}

async function kits(runner: QueryRunner): Promise<void> {
	await table(runner, "kit_lot", {
		id: "text key",
		code: "text",
		kit: "text",
		lot: "text",
		area_id: "text > area",
		holder_id: "text? > person",
		received_on: "text",
		expires_on: "text",
		opened_on: "text?",
		state: "text",
	});
	await index(runner, "kit_lot", "kit_lot_code", ["code"], { isUnique: true });
	await index(runner, "kit_lot", "kit_lot_holder", ["holder_id"]);
	await table(runner, "kit_comparison", {
		id: "text key",
		batch_id: "text > batch",
		test_id: "text > strength_test",
		other_test_id: "text > strength_test",
		tester_id: "text > person",
		other_tester_id: "text > person",
		found_at_ms: "instant",
		apart_sd: "real",
		state: "text",
		answer_test_id: "text? > strength_test",
	});
	await index(runner, "kit_comparison", "kit_comparison_batch", ["batch_id"]);
	await index(runner, "kit_comparison", "kit_comparison_once", ["test_id", "other_test_id"], { isUnique: true });
}
