import { COLLECT, MAKE, RETEST } from "../stock/due-work.js";
import type { Store } from "../store/store.js";
import { HOUR_MS } from "../time/clock.js";

/** What an unsafe household-day came of, and how the report says it. */
export const CAUSES = {
	over: "over 5 mg/L",
	notFetched: "no bleach: its volunteer had been asked to fetch it, and hadn't yet",
	notMade: "no bleach: it had been asked for at the generator, and wasn't made yet",
	notAsked: "no bleach, and nobody had been asked for it",
	water: "the water took more than the dose that was meant for it leaves over",
	measured: "less was measured than told",
	toldOtherwise: "the dose on the jar was for another strength than was believed by then",
	knownWeak: "the only bleach was known to be weak, or doubted",
	late: "weaker than believed, and a test had been asked for more than 12 hours before",
	sun: "weaker than believed: left in the sun, which no record told",
	untested: "weaker than believed: no reading of it or of what it was drawn from",
	tested: "weaker than believed, in spite of a reading",
} as const;

export type Cause = keyof typeof CAUSES;

/** Household-days by cause. */
export type CauseDays = Readonly<Record<Cause, number>>;

export const noDays = (): Record<Cause, number> =>
	Object.fromEntries(Object.keys(CAUSES).map((cause) => [cause, 0])) as Record<Cause, number>;

/** Shares of one day on which water would have been under the limit, each dosed nearer to what really was. */
export interface UnderShares {
	/** With the dose that was meant, measured as told. */
	readonly meant: number;
	/** With the meant dose as it was measured. */
	readonly measured: number;
	/** With what was told, as it was measured, of bleach as strong as was believed that morning. */
	readonly believed: number;
	/** As it was. */
	readonly really: number;
}

/**
 * Shares out what a household-day was unsafe: to the water what the meant dose would have left unsafe too, and so on, each cause at most
 * what it adds to those before it.
 * @param ofBleach what is said of the jar where its bleach was weaker than believed
 */
export function sharedOut({ meant, measured, believed, really }: UnderShares, ofBleach: Cause): Partial<Record<Cause, number>> {
	const water = Math.min(really, meant);
	const byMeasuring = Math.min(really - water, Math.max(0, measured - meant));
	const byDose = Math.min(really - water - byMeasuring, Math.max(0, believed - Math.max(meant, measured)));
	return { water, measured: byMeasuring, toldOtherwise: byDose, [ofBleach]: really - water - byMeasuring - byDose };
}

/** What people had been asked for on one morning, and hadn't done. */
export interface OpenWork {
	/** Jars that were to be tested. */
	readonly jars: ReadonlySet<string>;
	/** Volunteers who were to fetch bleach. */
	readonly volunteers: ReadonlySet<string>;
	/** Areas whose generator was to make it. */
	readonly areas: ReadonlySet<string>;
}

/** Whoever was asked later than that couldn't have done it yet. */
const LATE_AFTER_MS = 12 * HOUR_MS;

export async function openWork(store: Store, nowMs: number): Promise<OpenWork> {
	const rows = await store.query<{ kind: string; subjectId: string; areaId: string; openedAtMs: number }>(
		"SELECT kind, subject_id, area_id, opened_at_ms FROM task WHERE state = 'open' AND kind IN ($1, $2, $3)",
		[RETEST, COLLECT, MAKE],
	);
	const of = (kind: string) => rows.filter((row) => row.kind === kind);
	const late = of(RETEST).filter(({ openedAtMs }) => openedAtMs <= nowMs - LATE_AFTER_MS);
	return {
		jars: new Set(late.map(({ subjectId }) => subjectId)),
		volunteers: new Set(of(COLLECT).map(({ subjectId }) => subjectId)),
		areas: new Set(of(MAKE).map(({ areaId }) => areaId)),
	};
}
