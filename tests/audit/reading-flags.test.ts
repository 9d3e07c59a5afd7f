import { type ReportedReading, type ReportingVolunteer, readingFlags } from "../../src/audit/readings/flags.js";
import { METHODS } from "../../src/audit/readings/methods.js";
import { DAY_MS, MINUTE_MS } from "../../src/time/clock.js";
import { SeededRandomness } from "../../src/time/randomness.js";

const MORNING = Date.parse("2026-02-02T06:00:00Z"); // 09:00 in Nairobi
const SETTINGS = { lowMgPerL: 0.2, fastestKmPerH: 7 };
const KM = 1 / 111.2;

/** A volunteer of twelve households, five visits a day of eight days, walking 3 to 5 km/h and staying 8 to 20 minutes. */
function honest(code: string, draws: SeededRandomness): ReportingVolunteer {
	const homes = Array.from({ length: 12 }, (_, i) => ({
		householdId: `${code}-${i}`,
		place: { latitudeDeg: draws.fraction() * 2 * KM, longitudeDeg: 36 + draws.fraction() * 2 * KM },
		usualMgPerL: Math.exp(-0.9 + 0.5 * draws.normal()),
	}));
	const readings: ReportedReading[] = [];
	for (let day = 0; day < 8; day++) {
		let atMs = MORNING + day * DAY_MS + draws.below(60) * MINUTE_MS;
		let before: (typeof homes)[number] | undefined;
		for (let visit = 0; visit < 5; visit++) {
			const home = homes[(day * 5 + visit) % 12] as (typeof homes)[number];
			if (before) {
				const north = (home.place.latitudeDeg - before.place.latitudeDeg) / KM;
				const east = (home.place.longitudeDeg - before.place.longitudeDeg) / KM;
				atMs += ((Math.hypot(north, east) / (3 + 2 * draws.fraction())) * 60 + 8 + draws.below(12)) * MINUTE_MS;
			}
			const read = home.usualMgPerL * Math.exp(0.4 * draws.normal());
			const { householdId, place } = home;
			readings.push({ householdId, atMs: Math.round(atMs), place, freeChlorineMgPerL: Math.round(read * 10) / 10 });
			before = home;
		}
	}
	return { code, timeZone: "Africa/Nairobi", readings };
}

const team = (seed: number, count = 15) => {
	const draws = new SeededRandomness(seed);
	return Array.from({ length: count }, (_, i) => honest(`v${i}`, draws));
};

const withValues = (one: ReportingVolunteer, values: (i: number) => number): ReportingVolunteer => ({
	...one,
	code: "odd",
	readings: one.readings.map((reading, i) => ({ ...reading, freeChlorineMgPerL: values(i) })),
});

const flagsOf = (odd: ReportingVolunteer) =>
	readingFlags([...team(77), odd], SETTINGS).flagged.find(({ volunteerCode }) => volunteerCode === odd.code)?.flags ?? [];

describe("readings that deserve a second look", () => {
	it("are none in at least 95 of 100 teams of 15 honest volunteers, and by times in none", () => {
		const teams = Array.from({ length: 100 }, (_, seed) => readingFlags(team(1000 + seed), SETTINGS).flagged);
		expect(teams.filter((flagged) => flagged.length > 0).length).toBeLessThanOrEqual(5);
		expect(
			teams
				.flat()
				.flatMap(({ flags }) => flags)
				.filter(({ p }) => p === null),
		).toEqual([]);
	});

	it("are found where one value was written forty times", () => {
		expect(flagsOf(withValues(honest("odd", new SeededRandomness(5)), () => 0.5)).map(({ check }) => check)).toContain(
			"tooUniform",
		);
	});

	it("are found where two weeks were copied from the two before", () => {
		const one = honest("odd", new SeededRandomness(6));
		const copied = withValues(one, (i) => one.readings[i % 20]?.freeChlorineMgPerL ?? 0);
		const repeated = flagsOf(copied).find(({ check }) => check === "repeatedSequence");
		expect(repeated?.p).toBeLessThan(1e-4);
	});

	it("are found in at least 9 of 10 volunteers who make up plausible values around 0.5", () => {
		let found = 0;
		for (let seed = 0; seed < 30; seed++) {
			const draws = new SeededRandomness(300 + seed);
			const made = withValues(honest("odd", draws), () => draws.pick([0.4, 0.5, 0.5, 0.5, 0.6]));
			if (readingFlags([...team(500 + seed), made], SETTINGS).flagged.some(({ volunteerCode }) => volunteerCode === "odd"))
				found++;
		}
		expect(found).toBeGreaterThanOrEqual(27);
	});

	it("are found where nobody can have walked: 1 km in 5 min, 12 km/h, is faster than 7", () => {
		const one = honest("odd", new SeededRandomness(8));
		const readings = one.readings.map((reading, i) => ({
			...reading,
			atMs: MORNING + Math.floor(i / 5) * DAY_MS + (i % 5) * 5 * MINUTE_MS,
			householdId: `far-${i}`,
			place: { latitudeDeg: (i % 2) * KM, longitudeDeg: 36 },
		}));
		const flag = flagsOf({ ...one, readings }).find(({ check }) => check === "walkedTooFast");
		expect(flag).toMatchObject({ p: null, figures: { odd: 32, of: 39 } });
		// 1 km less 100 m for both positions in 5 min.
		expect(flag?.figures["fastestKmPerH"]).toBeCloseTo(10.8, 1);
		expect(flag?.limit).toBe("7 km/h, at least 3 and 5 % of them");
	});

	it("are found where a month was written down in an hour of the night", () => {
		const one = honest("odd", new SeededRandomness(9));
		const readings = one.readings.map((reading, i) => ({
			...reading,
			place: null,
			atMs: MORNING + 14 * 60 * MINUTE_MS + i * MINUTE_MS,
		}));
		expect(flagsOf({ ...one, readings }).map(({ check }) => check)).toEqual(expect.arrayContaining(["allAtOnce", "atNight"]));
	});

	it("tell with each flag by which method, with which figures and how often it is wrong, and never say more than check", () => {
		const one = honest("odd", new SeededRandomness(5));
		const { flagged } = readingFlags([...team(77), withValues(one, () => 0.5)], SETTINGS);
		expect(flagged.length).toBeGreaterThan(0);
		for (const { advice, flags } of flagged) {
			expect(advice).toBe("check");
			for (const { method, falseAlarms, figures, p, limit } of flags) {
				expect(method.length).toBeGreaterThan(20);
				expect(falseAlarms).toMatch(/^(tested|a limit)/);
				expect(Object.keys(figures).length).toBeGreaterThan(1);
				expect((p === null) !== (limit === null)).toBe(true);
			}
		}
		expect(JSON.stringify([flagged, METHODS])).not.toMatch(/fraud|\blie|\bfake|cheat|fabricat/i);
	});

	it("aren't looked for in fewer than 20", () => {
		const few = team(3).map((one) => ({ ...one, readings: one.readings.slice(0, 19) }));
		expect(readingFlags(few, SETTINGS)).toEqual({ looked: 15, tooFewReadings: 15, flagged: [] });
	});
});
