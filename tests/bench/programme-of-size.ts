import type { Store } from "../../src/store/store.js";
import { WARM } from "../support/world.js";

/** How much a programme has on file. */
export interface Size {
	readonly households: number;
	readonly volunteers: number;
	readonly batches: number;
}

/** @returns a programme of so many households, with a volunteer for twenty of them and a jar for five */
export const sizeOf = (households: number): Size => ({ households, volunteers: households / 20, batches: households / 5 });

/** A forecast as it is kept with a jar, as far as opening a task reads it. */
const FORECAST = JSON.stringify({
	now: { atMs: 0, medianGPerL: 4.4, lowGPerL: 3.5, highGPerL: 5.2, chanceUnderLimit: 0.05 },
	atRetest: { atMs: 0, medianGPerL: 4.4, lowGPerL: 3.5, highGPerL: 5.2, chanceUnderLimit: 0.05 },
	retestReason: "chancePassesTolerance",
	nextDilution: { sampleMl: 1, madeUpToL: 2 },
});

const AREAS = 20;

/** Ids that sort by their number, as ids that were given in the order of coming do. */
export const idOf = (letter: string, number: number): string => `${letter}${10_000_000 + number}`;

/**
 * Puts a whole invented programme on file by one statement a table: areas, volunteers who may be written to at any hour, households
 * with a container of 20 L each, and jars. A volunteer's households stand together, as they do where lists are entered area by area.
 * Nothing is due.
 * @param kinds names of the kinds of work of which each container and each jar is a subject
 */
export async function putProgramme(
	store: Store,
	{ households, volunteers, batches }: Size,
	kinds: { readonly container: string; readonly batch: string },
): Promise<void> {
	const climate = JSON.stringify(WARM);
	const put = (sql: string, ...parameters: unknown[]) => store.work.run((tx) => tx.affected(sql, parameters));
	const area = (n: string, of: number) => `'a' || CAST(10000000 + ${n} * ${AREAS} / ${of} AS text)`;
	const volunteer = (n: string, of: number) => `'v' || CAST(10000000 + CAST(${n} AS bigint) * ${volunteers} / ${of} AS text)`;
	await put(
		`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
		 ${upTo(AREAS)} SELECT 'a' || CAST(10000000 + n AS text), 'A' || CAST(n AS text), 'Invented', 'UTC', 0, 0, 0, $1 FROM numbers`,
		climate,
	);
	await put(
		`INSERT INTO person (id, code, role, name, phone_e164, language, area_id, working_days, quiet_from, quiet_until, channels, active)
		 ${upTo(volunteers)} SELECT 'v' || CAST(10000000 + n AS text), 'V' || CAST(n AS text), 'volunteer', 'Invented', '+4477' || CAST(10000000 + n AS text), 'en',
		 ${area("n", volunteers)}, '[1,2,3,4,5,6,7]', '00:00', '00:00', '[]', ${store.kind === "postgres" ? "TRUE" : "1"} FROM numbers`,
	);
	await put(
		`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity, latitude_deg, longitude_deg)
		 ${upTo(households)} SELECT 'h' || CAST(10000000 + n AS text), 'H' || CAST(n AS text), ${area("CAST(n AS bigint)", households)}, ${volunteer("n", households)}, 5, 'well', 'clear', 0, 0 FROM numbers`,
	);
	await put(
		`INSERT INTO container (id, code, household_id, volume_l, kind)
		 SELECT 'c' || substr(id, 2), 'C' || substr(code, 2), id, 20, 'narrow mouth' FROM household`,
	);
	await put(
		`INSERT INTO batch (id, code, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph_knowledge, wall, exposure, lit_area_m2, state, forecast)
		 ${upTo(batches)} SELECT 'j' || CAST(10000000 + n AS text), 'J' || CAST(n AS text), ${area("CAST(n AS bigint)", batches)}, ${volunteer("n", batches)}, 0, 5, 5, 0.15, 30, 'not measured', 'opaque', 'indoors', 0, 'in use', $1 FROM numbers`,
		FORECAST,
	);
	await put(
		"INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) SELECT CAST($1 AS text), c.id, h.area_id, NULL, 1 FROM container c JOIN household h ON h.id = c.household_id",
		kinds.container,
	);
	await put(
		"INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) SELECT CAST($1 AS text), id, area_id, NULL, 1 FROM batch",
		kinds.batch,
	);
	if (store.kind === "postgres") await store.query("ANALYZE");
}

function upTo(count: number): string {
	return `WITH RECURSIVE numbers (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM numbers WHERE n < ${count - 1})`;
}

/** Makes one subject in so many due, spread over all that there are. @returns how many are due now */
export function makeOneInDue(
	store: Store,
	of: { readonly kind: string; readonly letter: string; readonly count: number },
	every: number,
	round: number,
	nowMs: number,
): Promise<number> {
	const ids = Array.from({ length: Math.floor(of.count / every) }, (_, i) => idOf(of.letter, i * every + (round % every)));
	return store.work.run(async (tx) => {
		let due = 0;
		for (let from = 0; from < ids.length; from += 5000)
			due += await tx.affected(
				// Spread over the day, in an order that has nothing to do with where they stand.
				`UPDATE due SET due_at_ms = CAST($2 AS bigint) - (CAST(substr(subject_id, 2) AS bigint) * 7919) % 86400000
				 WHERE kind = $1 AND subject_id IN (${ids
						.slice(from, from + 5000)
						.map((id) => `'${id}'`)
						.join(",")})`,
				[of.kind, nowMs],
			);
		return due;
	});
}
