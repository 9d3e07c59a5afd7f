import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { BatteryRow } from "./rows.js";

/** A voltage at rest. */
export interface RestReading {
	readonly batteryId: string;
	readonly readAtMs: number;
	readonly restVoltageV: number;
	readonly restHours: number;
}

/** A run that drew from a battery. */
export interface BatteryRun {
	readonly batteryId: string;
	readonly startedAtMs: number;
	readonly endedAtMs: number;
	readonly currentA: number | null;
	readonly ratedCurrentA: number;
}

/** A battery with all that its charge is reckoned from. */
export interface BatteryFacts {
	readonly battery: BatteryRow & { readonly generatorCode: string | null; readonly operatorId: string | null };
	/** Since it is in use, the oldest first; each list the newest ones. */
	readonly readings: readonly RestReading[];
	readonly chargedAtMs: readonly number[];
	readonly runs: readonly BatteryRun[];
}

type Reader = Pick<Transaction, "query">;

/** Older than these nothing tells of today's charge. */
const MOST = 60;

/** @returns the facts by battery. Four statements, however many are asked for */
export async function batteryFacts(from: Reader, ids: readonly string[]): Promise<ReadonlyMap<string, BatteryFacts>> {
	if (ids.length === 0) return new Map();
	const places = placeholders(ids.length);
	const batteries = await from.query<BatteryFacts["battery"] & object>(
		`SELECT b.*, g.code AS generator_code, g.operator_id FROM battery b LEFT JOIN generator g ON g.id = b.generator_id WHERE b.id IN (${places})`,
		ids,
	);
	const newest = (columns: string, table: string, at: string, and = "") =>
		`SELECT * FROM (SELECT ${columns}, ROW_NUMBER() OVER (PARTITION BY x.battery_id ORDER BY x.${at} DESC, x.id) AS nth
		 FROM ${table} WHERE x.battery_id IN (${places}) ${and}) y WHERE y.nth <= ${MOST} ORDER BY y.${at}`;
	const readings = await from.query<RestReading & object>(
		newest("x.battery_id, x.read_at_ms, x.rest_voltage_v, x.rest_hours", "battery_reading x", "read_at_ms"),
		ids,
	);
	const charges = await from.query<{ batteryId: string; doneAtMs: number }>(
		newest("x.battery_id, x.done_at_ms", "battery_care x", "done_at_ms", "AND x.work = 'charged'"),
		ids,
	);
	const runs = await from.query<BatteryRun & object>(
		newest(
			"x.battery_id, x.started_at_ms, x.ended_at_ms, x.current_a, g.rated_current_a",
			"generator_run x JOIN generator g ON g.id = x.generator_id",
			"started_at_ms",
			"AND x.ended_at_ms IS NOT NULL",
		),
		ids,
	);
	const of = <T extends { batteryId: string }>(rows: readonly T[], id: string) =>
		rows.filter(({ batteryId }) => batteryId === id);
	return new Map(
		batteries.map((battery) => [
			battery.id,
			{
				battery: { ...battery, inUse: Boolean(battery.inUse) },
				readings: of(readings, battery.id),
				chargedAtMs: of(charges, battery.id).map(({ doneAtMs }) => doneAtMs),
				runs: of(runs, battery.id),
			},
		]),
	);
}
