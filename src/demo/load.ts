import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { snakeCase } from "../store/columns.js";
import { valuesOf } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { VirtualClock } from "../time/clock.js";
import { Ids } from "../time/ids.js";
import type { District } from "./district.js";
import { drawsFor } from "./draws.js";

/** What is to be computed from the rows before they are kept: forecasts, due instants. */
export type Afterwards = (tx: Transaction, batchIds: readonly string[]) => Promise<void>;

const ROWS_AT_ONCE = 500;

/**
 * Writes an invented district into an empty database, all or nothing.
 *
 * @param afterwards called in the same unit of work with the ids of the jars that are in use
 * @returns "there already" and changes nothing where this very district (same start, same instant) is in the database
 * @throws InputError `conflict` where the database holds anything else: invented records never mix with real ones
 */
export function loadDistrict(
	store: Store,
	district: District,
	afterwards: Afterwards = async () => undefined,
): Promise<"loaded" | "there already"> {
	return store.work.run(async (tx) => {
		if (await holds(tx, district)) return "there already";
		for (const [table, rows] of tablesOf(district)) await insert(tx, table, rows);
		await record(tx, new Ids(new VirtualClock(district.startAtMs), drawsFor(district.start, "ledger")), [
			{
				atMs: district.startAtMs,
				actor: "demo",
				action: "invented district loaded",
				subjectKind: "programme",
				subjectId: district.programme.id,
				areaId: district.areas[0]?.id ?? null,
				detail: Object.fromEntries([
					["start", district.start],
					...tablesOf(district).map(([table, rows]) => [table, rows.length]),
				]),
			},
		]);
		await afterwards(
			tx,
			district.batches.filter(({ state }) => state === "in use").map(({ id }) => id),
		);
		return "loaded";
	});
}

/** @returns whether the district is there; @throws InputError where something else is */
async function holds(tx: Transaction, district: District): Promise<boolean> {
	const found = await tx.query<{ id: string }>(
		"SELECT id FROM person UNION ALL SELECT id FROM area UNION ALL SELECT id FROM programme UNION ALL SELECT id FROM batch",
	);
	if (found.length === 0) return false;
	const own = [...district.people, ...district.areas, district.programme, ...district.batches].map(({ id }) => id);
	const there = new Set(found.map(({ id }) => id));
	if (own.every((id) => there.has(id))) return true;
	throw new InputError(
		"conflict",
		`The database already holds people or places that aren't those of the ${district.programme.name}. The demo is invented and doesn't mix with other records: give it an empty database of its own.`,
		{ status: 409 },
	);
}

/** Parents before children. */
function tablesOf(district: District): (readonly [table: string, rows: readonly object[]])[] {
	return [
		["programme", [district.programme]],
		["area", district.areas],
		["person", district.people],
		["household", district.households],
		["container", district.containers],
		["household_water", district.householdWater],
		["generator", district.generators],
		["batch", district.batches],
		["strength_test", district.strengthTests],
		["dose", district.doses],
		["residual_check", district.residualChecks],
		["battery", district.generatorRecords.batteries],
		["generator_run", district.generatorRecords.runs],
		["generator_care", district.generatorRecords.care],
		["battery_reading", district.generatorRecords.batteryReadings],
		["kit_lot", district.generatorRecords.kitLots],
	];
}

async function insert(tx: Transaction, table: string, rows: readonly object[]): Promise<void> {
	const properties = Object.keys(rows[0] ?? {});
	const columns = properties.map(snakeCase).join(",");
	for (let from = 0; from < rows.length; from += ROWS_AT_ONCE) {
		const cells = rows
			.slice(from, from + ROWS_AT_ONCE)
			.map((row) => properties.map((property) => cellOf((row as Record<string, unknown>)[property])));
		const { text, parameters } = valuesOf(cells);
		await tx.affected(`INSERT INTO ${table} (${columns}) VALUES ${text}`, parameters);
	}
}

/** Lists and objects are kept as JSON text. */
function cellOf(value: unknown): unknown {
	return typeof value === "object" && value !== null ? JSON.stringify(value) : value;
}
