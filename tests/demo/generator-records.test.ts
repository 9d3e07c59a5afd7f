import { expect } from "@jest/globals";
import { district } from "../../src/demo/district.js";
import { runProblems } from "../../src/generators/run-checks.js";
import { policyFrom } from "../../src/programme/policy.js";
import { strengthMadeGPerL } from "../../src/science/faraday.js";
import { MINUTE_MS } from "../../src/time/clock.js";

const START = Date.UTC(2025, 10, 24, 3);

describe("what an invented district wrote down of its generators", () => {
	const one = district({ start: 1, startAtMs: START });
	const { runs, batteries, care, batteryReadings, kitLots } = one.generatorRecords;
	const { generators: rules } = policyFrom({});
	const generatorOf = (id: string) => one.generators.find((generator) => generator.id === id)!;

	it("are four generators with an operator, a battery and runs each, and reagent for every volunteer", () => {
		expect(one.generators.map(({ operatorId }) => one.people.some(({ id }) => id === operatorId))).toEqual([
			true,
			true,
			true,
			true,
		]);
		expect(batteries.map(({ generatorId }) => generatorId)).toEqual(one.generators.map(({ id }) => id));
		for (const { id } of one.generators) expect(runs.filter(({ generatorId }) => generatorId === id).length).toBeGreaterThan(3);
		expect(kitLots).toHaveLength(14);
	});

	it("has only runs that the program would take: within its rules, before the start, none within another", () => {
		for (const run of runs)
			expect([run.code, runProblems({ ...run, isFurther: false }, generatorOf(run.generatorId), rules, START)]).toEqual([
				run.code,
				[],
			]);
		for (const { id } of one.generators) {
			const own = runs.filter(({ generatorId }) => generatorId === id).sort((a, b) => a.startedAtMs - b.startedAtMs);
			for (const [i, run] of own.slice(1).entries()) expect(run.startedAtMs).toBeGreaterThanOrEqual(own[i]!.endedAtMs!);
		}
		expect(new Set(runs.map(({ code }) => code)).size).toBe(runs.length);
	});

	it("has runs whose current and minutes make the strength that their jars' record tells, by Faraday's law", () => {
		for (const run of runs) {
			const { cellsInSeries, currentEfficiency, batchVolumeL: volumeL } = generatorOf(run.generatorId);
			const runMinutes = (run.endedAtMs! - run.startedAtMs) / MINUTE_MS;
			const made = strengthMadeGPerL({ currentA: run.currentA!, runMinutes, volumeL, cellsInSeries, currentEfficiency });
			const jar = one.batches.find(({ id }) => id === run.batchId)!;
			expect(jar.madeAtMs).toBe(run.endedAtMs);
			// Currents are written down to a tenth of an ampere.
			expect(Math.abs(made / jar.madeStrengthGPerL - 1)).toBeLessThan(0.01);
		}
	});

	it("has every run rinsed, electrodes looked at within a week, and voltages of batteries at rest", () => {
		const rinsed = new Set(
			care.filter(({ work }) => work === "rinsed").map(({ generatorId, doneAtMs }) => `${generatorId} ${doneAtMs}`),
		);
		for (const { generatorId, endedAtMs } of runs) expect(rinsed.has(`${generatorId} ${endedAtMs}`)).toBe(true);
		expect(care.filter(({ doneAtMs }) => doneAtMs > START)).toEqual([]);
		for (const { restVoltageV } of batteryReadings) {
			expect(restVoltageV).toBeGreaterThan(12.4);
			expect(restVoltageV).toBeLessThan(12.9);
		}
	});
});
