import type { MonthlyClimate } from "../science/climate.js";
import type { Journey } from "../science/journey.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Calendars } from "./places.js";
import type { JarStayRow } from "./rows.js";

/** A stay with what its area does to a jar. */
export interface Stay
	extends Pick<JarStayRow, "jarId" | "inJarId" | "sinceMs" | "areaId" | "wall" | "exposure" | "volumeL" | "litAreaM2"> {
	readonly latitudeDeg: number;
	readonly altitudeM: number;
	readonly climate: string;
}

/** @returns the stays of what is in the jars now, in order, by jar; a jar that has never moved isn't among them */
export async function staysOf(
	from: Pick<Transaction, "query">,
	jarIds: readonly string[],
): Promise<ReadonlyMap<string, readonly Stay[]>> {
	if (jarIds.length === 0) return new Map();
	const rows = await from.query<Stay & object>(
		`SELECT s.jar_id, s.in_jar_id, s.since_ms, s.area_id, s.wall, s.exposure, s.volume_l, s.lit_area_m2, a.latitude_deg, a.altitude_m, a.climate
		 FROM jar_stay s JOIN batch b ON b.id = s.jar_id AND s.fill = COALESCE(b.fill, 1) JOIN area a ON a.id = s.area_id
		 WHERE s.jar_id IN (${placeholders(jarIds.length)}) ORDER BY s.jar_id, s.since_ms, s.id`,
		jarIds,
	);
	const byJar = new Map<string, Stay[]>();
	for (const row of rows) {
		const known = byJar.get(row.jarId);
		if (known) known.push(row);
		else byJar.set(row.jarId, [row]);
	}
	return byJar;
}

/** @param stays in order, at least one @param madeStrengthGPerL decides how much light is absorbed */
export function journeyOf(stays: readonly Stay[], calendars: Calendars, madeStrengthGPerL: number): Journey {
	const calendarOf = (stay: Stay) =>
		calendars.of({ ...stay, climate: JSON.parse(stay.climate) as MonthlyClimate[], madeStrengthGPerL });
	const earlier = stays.slice(0, -1).map((stay, i) => ({ calendar: calendarOf(stay), untilMs: (stays[i + 1] as Stay).sinceMs }));
	return { calendar: calendarOf(stays.at(-1) as Stay), ...(earlier.length > 0 ? { earlier } : {}) };
}

/** The jars that the bleach in a jar has been in, each with when it was in it: tests of another time tell of other bleach. */
export interface TestedIn {
	readonly jarId: string;
	readonly inJarId: string;
	readonly fromMs: number;
	/** Not included; the present jar has no end. */
	readonly untilMs: number;
}

export function testedIn(stays: readonly Stay[]): TestedIn[] {
	return stays.map(({ jarId, inJarId, sinceMs }, i) => ({
		jarId,
		inJarId,
		fromMs: sinceMs,
		untilMs: stays[i + 1]?.sinceMs ?? Number.POSITIVE_INFINITY,
	}));
}
