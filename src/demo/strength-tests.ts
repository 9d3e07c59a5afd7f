import type { PersonRow } from "../programme/rows.js";
import type { BatchRow, StrengthTestRow } from "../stock/rows.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { nextContactInstant } from "../time/local.js";
import { around, between, drawsFor } from "./draws.js";
import { DEMO_KIT, kitReading, strengthBandOf } from "./kit-reading.js";
import type { Making } from "./making.js";
import type { Habits, People } from "./people.js";
import { DEMO_TIME_ZONE } from "./places.js";
import { jarTruth } from "./truth.js";

const DILUTION = { sampleMl: 1, madeUpToL: 2 };
/** Days between two tests, as habits have it; nobody who never answers tests a second time. */
const EVERY_DAYS = { soon: 5, late: 9, never: Number.POSITIVE_INFINITY } as const;
/** A jar is emptied in about this time. */
const EMPTIED_AFTER_DAYS = 14;

/** @returns the tests before the start: one soon after the making, then as often as the keeper's habits have it */
export function testsOf(making: Making, jars: readonly BatchRow[], { volunteers, habits }: People): StrengthTestRow[] {
	const { start, startAtMs, areas, strengthAt } = making;
	const tests = jars.flatMap((jar) => {
		const keeper = volunteers.find(({ id }) => id === jar.keeperId);
		const area = areas.get(jar.areaId);
		if (!keeper || !area) return [];
		const untilMs = jar.state === "in use" ? startAtMs : Math.min(startAtMs, jar.madeAtMs + EMPTIED_AFTER_DAYS * DAY_MS);
		const truth = jarTruth(start, jar);
		return testInstants(start, jar, keeper, habits[keeper.id] as Habits, untilMs).map((atMs) =>
			testAt(start, startAtMs, jar, atMs, strengthAt(jar, area, truth, atMs)),
		);
	});
	tests.sort((a, b) => a.testedAtMs - b.testedAtMs);
	return tests.map((test) => ({ id: making.newId(test.recordedAtMs), ...test }));
}

function testInstants(start: number, jar: BatchRow, keeper: PersonRow, habits: Habits, untilMs: number): number[] {
	const draws = drawsFor(start, "test days", jar.id);
	const instants: number[] = [];
	let atMs = jar.madeAtMs + between(draws, 1, 4) * HOUR_MS;
	while (atMs < untilMs - HOUR_MS) {
		instants.push(Math.round(atMs / MINUTE_MS) * MINUTE_MS);
		const days = EVERY_DAYS[habits.answers] * around(draws, 1, 0.2);
		if (!Number.isFinite(days)) break;
		const againMs = Math.round(atMs + days * DAY_MS);
		atMs = nextContactInstant(againMs, { ...keeper, timeZone: DEMO_TIME_ZONE }) + between(draws, 0, 90) * MINUTE_MS;
	}
	return instants;
}

function testAt(
	start: number,
	startAtMs: number,
	jar: BatchRow,
	testedAtMs: number,
	strengthGPerL: number,
): Omit<StrengthTestRow, "id"> {
	const draws = drawsFor(start, "test", jar.id, testedAtMs);
	const reading = kitReading(draws, strengthGPerL, DILUTION);
	return {
		batchId: jar.id,
		testedAtMs,
		recordedAtMs: Math.min(startAtMs, testedAtMs + Math.round(around(draws, 20, 0.8)) * MINUTE_MS),
		testerId: jar.keeperId,
		kit: DEMO_KIT,
		...DILUTION,
		reading,
		...strengthBandOf(reading, DILUTION),
		taskId: null,
		flags: [],
	};
}
