import fc from "fast-check";
import type { Store } from "../../src/store/store.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { served } from "../api/served.js";
import { type DatabaseKind, databasesHere } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { type Draws, HAPPENINGS, Quarter } from "./happenings.js";

/** One thing that happens, some hours after the last. */
interface Event {
	readonly afterHours: number;
	readonly what: string;
	readonly draws: Draws;
}

const draw = fc.nat({ max: 9999 });
const event: fc.Arbitrary<Event> = fc.record({
	afterHours: fc.double({ min: 0.01, max: 72, noNaN: true }),
	what: fc.constantFrom(...Object.keys(HAPPENINGS)),
	draws: fc.tuple(draw, draw, draw, draw),
});
const programme = fc.record({
	volunteers: fc.integer({ min: 1, max: 3 }),
	households: fc.integer({ min: 1, max: 5 }),
	jars: fc.integer({ min: 0, max: 4 }),
	generators: fc.integer({ min: 0, max: 2 }),
	// About a quarter of a year: 80 events, 36 h apart on the average, are 120 days; the tail is cut off.
	events: fc.array(event, { minLength: 30, maxLength: 80 }),
});
type Programme = typeof programme extends fc.Arbitrary<infer P> ? P : never;

const QUARTER_MS = 91 * DAY_MS;

/** Programmes tried on each database. A run always tries the same ones; JARWATCH_TEST_QUARTERS tries so many others, by a seed that a failure prints. */
const OTHERS = Number(process.env["JARWATCH_TEST_QUARTERS"] ?? 0);
const PROGRAMMES = OTHERS || 6;
const CHOSEN = OTHERS > 0 ? {} : { seed: 20_260_303 };

async function begun(kind: DatabaseKind, given: Programme): Promise<Quarter> {
	const api = await served(kind);
	const { world } = api;
	const volunteers = ["vol"];
	const generators: string[] = [];
	const csv = async (of: string, rows: string[]) => {
		const { status, text } = await api.ask("POST", `/imports/${of}`, {
			raw: rows.join("\n"),
			headers: { "content-type": "text/csv; charset=utf-8" },
		});
		if (status !== 200) throw new Error(`importing ${of}: ${text}`);
	};
	const people = ["code,role,name,phone,language,area_code,supervisor_code,working_days,quiet_from,quiet_until,channels"];
	for (let v = 1; v < given.volunteers; v++) {
		volunteers.push(`v${v}`);
		people.push(`v${v},volunteer,Invented ${v},+4477009001${String(v).padStart(2, "0")},en,A1,sup,1 2 3 4 5 6 7,20:00,06:00,`);
	}
	if (people.length > 1) await csv("people", people);
	const households = Array.from({ length: given.households }, (_, i) => `H${i}`);
	await csv("households", [
		"code,area_code,volunteer_code,persons,water_source,turbidity,latitude_deg,longitude_deg",
		...households.map(
			(code, i) => `${code},A1,${volunteers[i % volunteers.length]},${2 + (i % 6)},well,${i % 3 === 0 ? "cloudy" : "clear"},,`,
		),
	]);
	const containers = households.map((_, i) => `C${i}`);
	await csv("containers", [
		"code,household_code,volume_l,kind,last_cleaned_on",
		...containers.map((code, i) => `${code},H${i},${i % 2 === 0 ? 20 : 10},narrow mouth,`),
	]);
	for (let g = 0; g < given.generators; g++) generators.push(`G${g}`);
	if (generators.length > 0)
		await csv("generators", [
			"code,name,area_code,rated_current_a,cells_in_series,current_efficiency,batch_volume_l,salt_g_per_l,in_service",
			...generators.map((code) => `${code},Invented ${code},A1,10,1,0.6,5,30,yes`),
		]);
	const jars: string[] = [];
	for (let j = 0; j < given.jars; j++) {
		jars.push(`B${j}`);
		await aBatch(world, `B${j}`, { keeperCode: volunteers[j % volunteers.length] ?? null });
	}
	return new Quarter(api, { volunteers, containers, jars, generators, households, items: [] });
}

/** Lets a quarter go by, looking after each happening at what must always hold. @returns the state of every table at its end */
async function lived(
	kind: DatabaseKind,
	given: Programme,
	look: (on: Quarter) => Promise<void>,
): Promise<Record<string, string[]>> {
	const quarter = await begun(kind, given);
	const { world } = quarter.api;
	try {
		const endMs = world.clock.nowMs() + QUARTER_MS;
		for (const { afterHours, what, draws } of given.events) {
			if (world.clock.nowMs() >= endMs) break;
			world.clock.advance(Math.round(afterHours * HOUR_MS));
			await world.sweep.openDue();
			await world.escalation.climb();
			await look(quarter);
			await HAPPENINGS[what]?.(quarter, draws);
		}
		await world.sweep.openDue();
		await look(quarter);
		return await stateOf(world.store);
	} finally {
		await quarter.api.close();
	}
}

/** Every row of every table as text, sorted. */
async function stateOf(store: Store): Promise<Record<string, string[]>> {
	const state: Record<string, string[]> = {};
	for (const table of store.writer.entityMetadatas.map(({ tableName }) => tableName)) {
		// A key's proof is sealed under a nonce of chance, as it must be.
		if (table === "data_key") continue;
		const rows = await store.query<Record<string, unknown>>(`SELECT * FROM ${table}`);
		state[table] = rows
			.map((row) => JSON.stringify(row, (_, value) => (typeof value === "boolean" ? Number(value) : value)))
			.sort();
	}
	return state;
}

/** What must hold after each sweep, whatever has happened. */
async function look({ api }: Quarter): Promise<void> {
	const { store, clock } = api.world;
	const due = await store.query("SELECT kind, subject_id, due_at_ms FROM due WHERE due_at_ms <= $1", [clock.nowMs()]);
	expect({ "due without a task after a sweep": due }).toEqual({ "due without a task after a sweep": [] });
	const twice = await store.query(
		"SELECT kind, subject_id FROM task WHERE state = 'open' GROUP BY kind, subject_id HAVING count(*) > 1",
	);
	expect({ "two open tasks of one kind": twice }).toEqual({ "two open tasks of one kind": [] });
	const closed = await store.query<{ code: string; outcome: string | null; closedAtMs: number | null }>(
		"SELECT code, outcome, closed_at_ms FROM task WHERE state <> 'open'",
	);
	const without = closed.filter(
		({ outcome, closedAtMs }) => closedAtMs === null || Object.keys(JSON.parse(outcome ?? "{}")).length === 0,
	);
	expect({ "closed without evidence": without }).toEqual({ "closed without evidence": [] });
	const sums = await store.query(
		`SELECT b.code, b.held_ul, (SELECT COALESCE(SUM(m.volume_ul), 0) FROM stock_move m WHERE m.jar_id = b.id) AS moved FROM batch b`,
	);
	for (const { code, heldUl, moved } of sums as { code: string; heldUl: number | null; moved: number }[]) {
		if (heldUl === null) expect({ code, moved: Number(moved) }).toEqual({ code, moved: 0 });
		else expect({ code, heldUl: Number(moved) }).toEqual({ code, heldUl });
		expect({ code, isNegative: (heldUl ?? 0) < 0 }).toEqual({ code, isNegative: false });
	}
	// Bleach that was drawn from one jar is in another: what was made is what is held, used, spilt, discarded and corrected.
	const [balance] = await store.query<{ drawn: number }>(
		"SELECT COALESCE(SUM(volume_ul), 0) AS drawn FROM stock_move WHERE kind IN ('drawn in', 'drawn out')",
	);
	expect(Number(balance?.drawn)).toBe(0);
}

describe("a quarter of a year of a random programme, in which people do and enter what they like", () => {
	it.each(databasesHere())(
		"loses and creates no volume, doubles no task, closes none without evidence, leaves nothing due, on %s",
		async (kind) => {
			await fc.assert(
				fc.asyncProperty(programme, async (given) => void (await lived(kind, given, look))),
				{ ...CHOSEN, numRuns: PROGRAMMES, endOnFailure: true },
			);
		},
		240_000,
	);

	it.each(databasesHere())(
		"comes to the same state, row for row, when the same happens again, on %s",
		async (kind) => {
			const again = async (given: Programme) => lived(kind, given, async () => undefined);
			await fc.assert(
				fc.asyncProperty(programme, async (given) => {
					const [first, second] = [await again(given), await again(given)];
					for (const [table, rows] of Object.entries(first)) {
						// The first few that differ say enough.
						const others = new Set(second[table]);
						expect({ table, differ: rows.filter((row) => !others.has(row)).slice(0, 3) }).toEqual({ table, differ: [] });
						expect({ table, rows: second[table]?.length }).toEqual({ table, rows: rows.length });
					}
				}),
				{ ...CHOSEN, numRuns: 2, endOnFailure: true },
			);
		},
		240_000,
	);
});
