import { choiceColumn, codeColumn, flagColumn, numberColumn, orEmpty, referenceColumn } from "../programme/import/column.js";
import { importKind } from "../programme/import/kind.js";
import { momentColumn, momentMsOf } from "../programme/import/moment.js";
import { type Found, type Reference, toPerson } from "../programme/import/references.js";
import { MOST_REST_VOLTAGE_V, type RunField, runProblems } from "./run-checks.js";

type FoundGenerator = Found & { readonly batchVolumeL: number; readonly ratedCurrentA: number };

const toRunningGenerator: Reference = {
	noun: "generator",
	table: "generator",
	select:
		"SELECT x.code, x.id, a.time_zone, x.batch_volume_l, x.rated_current_a FROM generator x JOIN area a ON a.id = x.area_id",
};
const toBattery: Reference = { noun: "battery", table: "battery", select: "SELECT x.code, x.id FROM battery x" };
const toBatch: Reference = { noun: "batch", table: "batch", select: "SELECT x.code, x.id FROM batch x" };

const COLUMN_OF: Readonly<Record<RunField, string>> = {
	startedAt: "started_at",
	endedAt: "ended_at",
	saltG: "salt_g",
	waterL: "water_l",
	batteryCode: "battery_code",
	currentA: "current_a",
	restVoltageV: "rest_voltage_v",
};

/** What a file is read by; the programme's own limits are looked at once its rows are written. */
const WIDEST = { mostCurrentA: 500, mostCurrentOfRated: 10 };

/** Runs of a log that was kept on paper, each over; what one filled is a batch that is on file. */
export const runImport = importKind({
	name: "runs",
	noun: "run",
	table: "generator_run",
	columns: {
		code: codeColumn(),
		generator_code: referenceColumn(toRunningGenerator),
		operator_code: orEmpty(referenceColumn(toPerson)),
		started_at: momentColumn,
		ended_at: momentColumn,
		salt_g: numberColumn({ from: 0, to: 350_000, unit: "grams" }),
		water_l: numberColumn({ from: 0, to: 2000, unit: "litres" }),
		power_source: choiceColumn("battery", "running engine", "solar panel", "mains"),
		battery_code: orEmpty(referenceColumn(toBattery)),
		current_a: orEmpty(numberColumn({ from: 0.05, to: 500, unit: "amperes" })),
		rest_voltage_v: orEmpty(numberColumn({ from: 0, to: MOST_REST_VOLTAGE_V, unit: "volts, one 12 V battery at a time" })),
		gas_seen: orEmpty(flagColumn()),
		batch_code: orEmpty(referenceColumn(toBatch)),
	},
	fieldsOf(values, { nowMs, found, idOf, refuse }) {
		const generator = found("generator_code") as FoundGenerator | undefined;
		const timeZone = generator?.timeZone ?? "UTC";
		const run = {
			startedAtMs: momentMsOf(values.started_at, timeZone) ?? Number.NaN,
			endedAtMs: momentMsOf(values.ended_at, timeZone) ?? Number.NaN,
			saltG: values.salt_g,
			waterL: values.water_l,
			powerSource: values.power_source,
			batteryId: idOf("battery_code"),
			currentA: values.current_a,
			restVoltageV: values.rest_voltage_v,
			isFurther: false,
		};
		if (generator) for (const { at, message } of runProblems(run, generator, WIDEST, nowMs)) refuse(COLUMN_OF[at], message);
		return {
			generator_id: idOf("generator_code"),
			operator_id: idOf("operator_code"),
			started_at_ms: run.startedAtMs,
			ended_at_ms: run.endedAtMs,
			// Not now: the same file again would differ in every row.
			recorded_at_ms: run.endedAtMs,
			salt_g: run.saltG,
			water_l: run.waterL,
			power_source: run.powerSource,
			battery_id: run.batteryId,
			current_a: run.currentA,
			rest_voltage_v: run.restVoltageV,
			gas_seen: values.gas_seen,
			batch_id: idOf("batch_code"),
		};
	},
});
