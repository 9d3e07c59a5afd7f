import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { NestFactory } from "@nestjs/core";
import { pino } from "pino";
import { appModule } from "../../src/app.module.js";
import { ThreadSolver } from "../../src/assignment/thread-solver.js";
import { settingsFrom } from "../../src/settings/settings.js";
import { type RunResult, runOne } from "../../src/simulation/one.js";
import { SimulatedPhones } from "../../src/simulation/phone.js";
import { SIMULATION_START_MS } from "../../src/simulation/programme.js";
import { reportOf } from "../../src/simulation/report.js";
import { WAYS } from "../../src/simulation/ways.js";
import { VirtualClock } from "../../src/time/clock.js";
import { SeededRandomness } from "../../src/time/randomness.js";

const SIZE = { households: 16, volunteers: 2, generators: 1 };
const DAYS = 16;

async function lived(seed: number, name: string): Promise<RunResult> {
	const way = WAYS.find((one) => one.name === name);
	if (!way) throw new Error(`no way ${name}`);
	const dataFolder = await mkdtemp(join(tmpdir(), "jarwatch-simulation-"));
	const clock = new VirtualClock(SIMULATION_START_MS);
	const phones = new SimulatedPhones();
	const parts = {
		...{ log: pino({ level: "silent" }), clock, randomness: new SeededRandomness(seed), notifiers: [phones] },
		...{ solver: new ThreadSolver(() => ""), api: false },
	};
	const app = await NestFactory.createApplicationContext(appModule({ ...settingsFrom({}), dataFolder }, parts), {
		...{ logger: false, abortOnError: false },
	});
	try {
		return await runOne(app, clock, phones, { seed, size: SIZE, way, days: DAYS });
	} finally {
		await app.close();
		await rm(dataFolder, { recursive: true, force: true });
	}
}

describe("a tiny programme of 16 households for 16 days", () => {
	let results: RunResult[];
	beforeAll(async () => {
		results = [];
		for (const { name } of WAYS) results.push(await lived(1, name));
	}, 900_000);

	const outcome = (way: string) => {
		const found = results.find((result) => result.outcome.way === way);
		if (!found) throw new Error(`no ${way}`);
		return found.outcome;
	};

	it("is the same to the byte for the same seed, and another for another", async () => {
		const again = await lived(1, "program");
		expect(JSON.stringify(again)).toBe(JSON.stringify(results.find((result) => result.outcome.way === "program")));
		expect((await lived(2, "program")).outcome).not.toEqual(again.outcome);
	}, 900_000);

	it("is the same world for every way: the meant dose leaves the same water in each", () => {
		for (const { outcome: one } of results) {
			expect(one.householdDays).toBe(SIZE.households * DAYS);
			expect(one.unsafeAtMeantDoseDays).toBe(outcome("program").unsafeAtMeantDoseDays);
		}
		expect(outcome("program").unsafeAtMeantDoseDays).toBeGreaterThan(0);
	});

	it("asks for more tests every 3 days than every 7, and for hardly any where only a low reading asks", () => {
		expect(outcome("days-3").tests).toBeGreaterThan(outcome("days-7").tests);
		expect(outcome("residual").tests).toBeLessThanOrEqual(outcome("days-7").tests);
		expect(outcome("days-7").tests).toBeGreaterThan(0);
	});

	it("goes through the program's own messages, stock and making", () => {
		for (const { outcome: one } of results) {
			expect(one.messages).toBeGreaterThan(10);
			expect(one.madeL).toBeGreaterThan(4);
			expect(one.underDays).toBeLessThan(one.householdDays);
		}
	});

	it("puts every unsafe household-day down to something", () => {
		for (const { outcome: one } of results) {
			const sum = Object.values(one.causes).reduce((total, days) => total + days, 0);
			// Each is rounded to a tenth of a day.
			expect(Math.abs(sum - one.underDays - one.overDays)).toBeLessThan(0.05 * (Object.keys(one.causes).length + 2));
		}
	});

	it("is reported with a table, two pictures and rows for other programs", () => {
		const files = reportOf(results);
		expect(Object.keys(files).sort()).toEqual(["calibration.csv", "comparison.svg", "reliability.svg", "report.md", "runs.csv"]);
		expect(files["runs.csv"]?.split("\r\n")).toHaveLength(WAYS.length + 2);
		expect(files["report.md"]).toContain("| strength tests |");
		expect(files["report.md"]).toMatch(/Half the tests of a fixed 7 days .*\*\*(met|missed)\*\* by `sparing`/);
		expect(files["report.md"]).toContain("## What unsafe household-days come of");
		expect(reportOf([...results].reverse())).toEqual(files);
	});
});
