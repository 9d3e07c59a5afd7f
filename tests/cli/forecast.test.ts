import { XMLValidator } from "fast-xml-parser";
import { beliefAfter } from "../../src/science/belief.js";
import { mostTellingDilution } from "../../src/science/best-dilution.js";
import { chlorateInStockMgPerL } from "../../src/science/chlorate.js";
import { doseFor } from "../../src/science/dose.js";
import { type Exposure, exposureBetween, exposureCalendar, type Wall } from "../../src/science/exposure.js";
import { comparatorWholeSteps } from "../../src/science/kits.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { retestPlan } from "../../src/science/retest.js";
import { type PHKnowledge, rateMultiplierLnSd, solutionFromRun } from "../../src/science/solution.js";
import { strengthNow } from "../../src/science/strength-now.js";
import published from "../published/decay.json" with { type: "json" };
import { ran } from "./ran.js";

interface Row {
	readonly day: number;
	readonly medianGPerL: number;
	readonly lowGPerL: number;
	readonly highGPerL: number;
	readonly chanceUnderLimit: number;
	readonly byRecordGPerL: number;
	readonly chlorateInJarMgPerL: number;
	readonly doseFor20L: Readonly<
		Record<"clear" | "cloudy", { readonly kind: string; readonly volumeMl?: number; readonly reason?: string }>
	>;
}

interface Batch {
	readonly options: readonly string[];
	readonly strengthGPerL: number;
	readonly lnInitialSd: number;
	readonly pH?: number;
	readonly known: PHKnowledge;
	readonly saltGPerL: number;
	readonly wall: Wall;
	readonly exposure: Exposure;
	readonly climate: { readonly dayMeanC: number; readonly nightMeanC: number; readonly cloudFraction: number };
	readonly place: {
		readonly latitudeDeg: number;
		readonly altitudeM: number;
		readonly solutionVolumeL: number;
		readonly litAreaM2: number;
	};
	readonly ageDays: number;
	readonly tests: readonly {
		readonly day: number;
		readonly reading: number;
		readonly sampleMl: number;
		readonly madeUpToL: number;
	}[];
	readonly limitGPerL: number;
	readonly tolerance: number;
}

const MADE_AT_MS = Date.parse("2026-03-01T00:00:00Z");
const DAY_MS = 86_400_000;

// Invented batches, unlike each other.
const batches: readonly Batch[] = [
	{
		options: [
			"--strength",
			"5.3",
			"--ph",
			"9.1",
			"--ph-by",
			"meter",
			"--salt-g-per-l",
			"27",
			"--test",
			"day 4: 2 at 1 mL in 2 L",
		],
		strengthGPerL: 5.3,
		lnInitialSd: 0.15,
		pH: 9.1,
		known: "meter",
		saltGPerL: 27,
		wall: "opaque",
		exposure: "indoors",
		climate: { dayMeanC: 30, nightMeanC: 22, cloudFraction: 0.4 },
		place: { latitudeDeg: 0, altitudeM: 0, solutionVolumeL: 5, litAreaM2: 0.03 },
		ageDays: 4,
		tests: [{ day: 4, reading: 2, sampleMl: 1, madeUpToL: 2 }],
		limitGPerL: 3.5,
		tolerance: 0.05,
	},
	{
		options: [
			...["--strength", "6.8", "--strength-ln-sd", "0.22", "--age-days", "9", "--limit", "2.9", "--tolerance", "0.1"],
			...["--wall", "translucent", "--exposure", "shade", "--latitude", "-13.5", "--altitude-m", "1150", "--volume-l", "20"],
			...["--lit-area-m2", "0.12", "--day-c", "27", "--night-c", "16", "--cloud", "0.25"],
			...["--test", "day 2: 5+ at 1 mL in 1 L", "--test", "day 7.5: 2 at 1 mL in 2.5 L"],
		],
		strengthGPerL: 6.8,
		lnInitialSd: 0.22,
		known: "unknown",
		saltGPerL: 30,
		wall: "translucent",
		exposure: "shade",
		climate: { dayMeanC: 27, nightMeanC: 16, cloudFraction: 0.25 },
		place: { latitudeDeg: -13.5, altitudeM: 1150, solutionVolumeL: 20, litAreaM2: 0.12 },
		ageDays: 9,
		tests: [
			{ day: 2, reading: 5, sampleMl: 1, madeUpToL: 1 },
			{ day: 7.5, reading: 2, sampleMl: 1, madeUpToL: 2.5 },
		],
		limitGPerL: 2.9,
		tolerance: 0.1,
	},
	{
		options: [
			"--strength",
			"4.2",
			"--ph",
			"9.4",
			"--exposure",
			"direct-sun",
			"--wall",
			"opaque-white",
			"--latitude",
			"12",
			"--limit",
			"3",
		],
		strengthGPerL: 4.2,
		lnInitialSd: 0.15,
		pH: 9.4,
		known: "strip",
		saltGPerL: 30,
		wall: "opaqueWhite",
		exposure: "directSun",
		climate: { dayMeanC: 30, nightMeanC: 22, cloudFraction: 0.4 },
		place: { latitudeDeg: 12, altitudeM: 0, solutionVolumeL: 5, litAreaM2: 0.03 },
		ageDays: 0,
		tests: [],
		limitGPerL: 3,
		tolerance: 0.05,
	},
];

/** The same batch by the science alone. */
function byScience(batch: Batch) {
	const { wall, exposure, climate, place } = batch;
	const { strengthGPerL, saltGPerL, pH } = batch;
	const calendar = exposureCalendar(
		{ ...place, wall, exposure, climate: Array.from({ length: 12 }, () => climate) },
		Math.round(strengthGPerL),
	);
	const until = (day: number) => exposureBetween(calendar, MADE_AT_MS, MADE_AT_MS + day * DAY_MS);
	const belief = beliefAfter(
		{
			medianInitialGPerL: strengthGPerL,
			lnInitialSd: batch.lnInitialSd,
			medianRateMultiplier: 1,
			lnRateSd: rateMultiplierLnSd(batch.known),
		},
		{ solution: solutionFromRun({ strengthGPerL, saltGPerL, pH }), strengthExponent: 2 },
		batch.tests.map((test) => strengthTestOf(comparatorWholeSteps, test, test.reading, until(test.day))),
	);
	return { belief, calendar, until };
}

async function forecastOf(...options: string[]) {
	const { out, code, err } = await ran("forecast", ...options, "--json");
	expect([code, err]).toEqual([0, ""]);
	return JSON.parse(out);
}

describe("the forecast command", () => {
	// Source: closed form of both paths at a constant 30 °C, pH 9 measured at 25 °C, 0.5 mol/L of salt, checked by a fourth-order
	// Runge-Kutta run (computed independently): 4.5210 g/L after 7 days. The first-order form that covers both paths lies below it.
	it.each(
		published.strength.checks.filter(
			({ pH, temperatureC, days }) => pH === 9 && temperatureC === 30 && [7, 14, 30].includes(days),
		),
	)(
		"shows $value g/L by record after $days days at pH $pH and $temperatureC °C, or at most 0.02 g/L less",
		async ({ days, value }) => {
			const kept = [
				"--ph",
				"9",
				"--ph-by",
				"meter",
				"--ph-at-c",
				"25",
				"--salt-g-per-l",
				"29.2215",
				"--day-c",
				"30",
				"--night-c",
				"30",
			];
			const { rows } = await forecastOf("--strength", "5", ...kept, "--days", String(days));
			const { day, byRecordGPerL } = rows.at(-1) as Row;
			expect(day).toBe(days);
			expect(byRecordGPerL).toBeLessThanOrEqual(value + 0.0005);
			expect(byRecordGPerL).toBeGreaterThan(value - 0.02);
		},
	);

	it.each(batches)("shows the figures of the science for a batch of $strengthGPerL g/L, $exposure, $known pH", async (batch) => {
		const { belief, until } = byScience(batch);
		const { rows } = await forecastOf(...batch.options);
		expect(rows.length).toBeGreaterThan(9);
		for (const row of rows as Row[]) {
			const now = strengthNow(belief, until(row.day));
			// The command asks the belief row by row, `strengthNow` cell by cell: they are held to 0.002 in chance of each other.
			for (const [shown, expected] of [
				[row.medianGPerL, now.medianGPerL],
				[row.lowGPerL, now.lowGPerL],
				[row.highGPerL, now.highGPerL],
			] as const)
				expect(Math.abs(shown / expected - 1)).toBeLessThan(0.01);
			expect(Math.abs(row.chanceUnderLimit - now.chanceUnder(batch.limitGPerL))).toBeLessThan(0.003);
			const chlorate = chlorateInStockMgPerL(batch.strengthGPerL, row.medianGPerL);
			expect(row.chlorateInJarMgPerL).toBe(chlorate);
			for (const turbidity of ["clear", "cloudy"] as const) {
				const shown = row.doseFor20L[turbidity];
				const answer = doseFor({
					strength: row,
					waterVolumeL: 20,
					turbidity,
					waterTemperatureC: (batch.climate.dayMeanC + batch.climate.nightMeanC) / 2,
				});
				if (row.chanceUnderLimit > 0.51) expect(shown).toEqual({ kind: "refused", reason: "underLimit" });
				else if (row.chanceUnderLimit < 0.49)
					expect(shown.volumeMl ?? shown.reason).toBe(answer.kind === "dose" ? answer.volumeMl : answer.reason);
			}
		}
	});

	it.each(batches)("asks for the test when and at the dilution that the science does: $strengthGPerL g/L", async (batch) => {
		const { belief, calendar, until } = byScience(batch);
		const { retest, retestReason, nextDilution, expectedRemainingDays, rules } = await forecastOf(...batch.options);
		const last = batch.tests.at(-1)?.day;
		const plan = retestPlan({
			belief,
			calendar,
			madeAtMs: MADE_AT_MS,
			...(last === undefined ? {} : { lastTestAtMs: MADE_AT_MS + last * DAY_MS }),
			nowMs: MADE_AT_MS + batch.ageDays * DAY_MS,
			limitGPerL: batch.limitGPerL,
			tolerance: batch.tolerance,
			window: { shortestMs: rules.shortestRetestDays * DAY_MS, longestMs: rules.longestRetestDays * DAY_MS },
		});
		expect(retestReason).toBe(plan.reason);
		expect(retest.day).toBe((plan.dueAtMs - MADE_AT_MS) / DAY_MS);
		expect(retest.date).toBe(new Date(plan.dueAtMs).toISOString().slice(0, 10));
		expect(expectedRemainingDays).toBeCloseTo(plan.expectedRemainingDays, 9);
		const choices = [1, 1.5, 2, 2.5].map((madeUpToL) => ({ sampleMl: 1, madeUpToL }));
		const [telling] = mostTellingDilution(belief, until(retest.day), comparatorWholeSteps, choices, batch.limitGPerL);
		expect(nextDilution).toEqual(telling?.dilution);
	});

	it("prints the JSON's figures, rounded, in the table", async () => {
		const { options } = batches[0] as Batch;
		const { out } = await ran("forecast", ...options);
		const { rows } = await forecastOf(...options);
		const at = out.split("\n").findIndex((line) => line.startsWith("day "));
		const printed = out.split("\n").slice(at + 1, at + 1 + rows.length);
		for (const [i, row] of (rows as Row[]).entries()) {
			const figures = printed[i]?.trim().split(/\s+/) ?? [];
			const expected = [
				row.medianGPerL.toFixed(2),
				row.lowGPerL.toFixed(2),
				"-",
				row.highGPerL.toFixed(2),
				(row.chanceUnderLimit * 100).toFixed(1),
			];
			expect(figures.slice(2, 7)).toEqual(expected);
		}
	});

	it("says the same to the byte for the same arguments, and marks what was assumed and nothing else", async () => {
		const args = ["forecast", "--strength", "5", "--ph", "9", "--day-c", "31"];
		const { out } = await ran(...args);
		expect((await ran(...args)).out).toBe(out);
		for (const assumed of ["salt 30 g/L*", "by strip*", "opaque wall*", "today is day 0*", "limit 3.5 g/L*"])
			expect(out).toContain(assumed);
		expect(out).toContain("31 °C by day,");
		expect(out).toMatch(/pH 9 by/);
	});

	it("takes the day of the last test for today where no age is given", async () => {
		const { batch, rows } = await forecastOf(
			"--strength",
			"5",
			"--test",
			"day 4: 2 at 1 mL in 2 L",
			"--test",
			"day 2: 4 at 1 mL in 1 L",
		);
		expect([batch.ageDays, rows[0].day]).toEqual([4, 4]);
	});

	it("is surer and asks later after a test that reads what was expected", async () => {
		const retest = async (...tests: string[]) => {
			const { retest: due, rows } = await forecastOf("--strength", "5", "--ph", "9", "--age-days", "4", ...tests);
			return { day: due.day as number, width: (rows[0].highGPerL - rows[0].lowGPerL) as number };
		};
		const without = await retest();
		const tested = await retest("--test", "day 4: 2 at 1 mL in 2 L");
		expect(tested.width).toBeLessThan(without.width);
		expect(tested.day).toBeGreaterThan(without.day);
	});

	it("has no dose and no test for a batch that is probably too weak, and says not for drinking water", async () => {
		const args = ["--strength", "4", "--ph", "8.6", "--age-days", "20"];
		const { out } = await ran("forecast", ...args);
		expect(out).toContain("Not for drinking water any more");
		expect(out).not.toContain("Test again");
		const { retest, rows } = await forecastOf(...args);
		expect([retest, rows[0].doseFor20L.clear.kind]).toEqual([null, "refused"]);
	});

	it("says that under pH 8.4 it can't be stored, and never to add acid", async () => {
		expect((await ran("forecast", "--strength", "5", "--ph", "8")).out).toMatch(/can't be stored.*never add acid/);
	});

	it("writes an open end of a test as null into JSON, and draws it with an arrow", async () => {
		const args = ["forecast", "--strength", "5", "--test", "day 2: 5+ at 1 mL in 1 L", "--json", "--svg", "jar.svg"];
		const { out, files } = await ran(...args);
		expect(JSON.parse(out).tests[0]).toMatchObject({ lowGPerL: 4.5, highGPerL: null, flag: "openTop" });
		const svg = files.get("jar.svg") ?? "";
		expect(XMLValidator.validate(svg)).toBe(true);
		expect(svg).toContain("test: this or more");
		expect(svg).not.toMatch(/NaN|Infinity/);
		expect((await ran(...args)).files.get("jar.svg")).toBe(svg);
	});

	it("names every option that is wrong at once, with what would be right, and ends with 2", async () => {
		const wrong = [
			"--strength",
			"50",
			"--days",
			"0",
			"--wall",
			"opaq",
			"--test",
			"day x",
			"--colour",
			"red",
			"--kit",
			"photometer",
		];
		const { code, err, out } = await ran("forecast", ...wrong, "--latitude", "1e3", "--made-on", "2026-02-30", "stray");
		expect([code, out]).toEqual([2, ""]);
		for (const part of [
			'--strength must be a number from 0.5 to 15 g/L, got "50"',
			'--days must be a number from 1 to 120 days, got "0"',
			"--wall must be one of opaque, opaque-white, translucent, clear-plastic, clear-glass, amber-glass",
			'did you mean "opaque"?',
			"--test must be such as",
			"--colour is no option of this command",
			"--latitude must be a number from -90 to 90 °",
			"--made-on must be a date",
			'"stray" belongs to no option',
		])
			expect(err).toContain(part);
		expect(err).not.toContain("--kit");
		expect(err).not.toContain('"red"');
	});

	it("asks for the strength, which has no default, and for a pH where only its means are given", async () => {
		const { code, err } = await ran("forecast", "--ph-by", "meter");
		expect(code).toBe(2);
		expect(err).toContain("--strength is needed: a number from 0.5 to 15 g/L");
		expect(err).toContain("--ph-by needs the reading: give --ph too");
	});

	it("refuses a test after today, a reading off the scale, a place hotter than the model and a file that can't be written", async () => {
		const late = await ran("forecast", "--strength", "5", "--age-days", "3", "--test", "day 4: 7 at 1 mL in 2 L");
		expect(late.err).toContain("lies after today, which is day 3; give --age-days 4 or more");
		expect(late.err).toContain("7 isn't on this kit's scale: 0, 1, 2, 3, 4, 5+");
		const hot = await ran("forecast", "--strength", "5", "--day-c", "45", "--night-c", "-20", "--exposure", "direct-sun");
		expect(hot.err).toMatch(/these can't be: hottest hour of the day in °C/);
		const unwritten = await ran("forecast", "--strength", "5", "--svg", "nowhere/jar.svg");
		expect(unwritten.err).toContain("--svg can't be written: no such folder");
		expect([late.code, hot.code, unwritten.code]).toEqual([2, 2, 2]);
	});

	it("tells its options with --help and ends with 0; an unknown command ends with 2", async () => {
		const help = await ran("forecast", "--help");
		expect(help.code).toBe(0);
		expect(help.out).toContain("--salt-g-per-l <g/L>");
		expect((await ran("forecats")).code).toBe(2);
	});
});
