import { describe, expect, it } from "@jest/globals";
import { uniformFloat64 } from "pure-rand/distribution/uniformFloat64";
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { runEfficiency } from "../../src/science/current-efficiency.js";
import { electrodeCare } from "../../src/science/electrode-care.js";
import { chlorineMadeG } from "../../src/science/faraday.js";
import { normalQuantile } from "../../src/science/normal.js";
import { expectNear } from "./near.js";

describe("current efficiency of a run", () => {
	const run = { currentA: 25.2, runMinutes: 75, volumeL: 5, strengthGPerL: 5 };
	it("is 0.600 for 5 L of 5 g/L after 75 min at 25.2 A", () => {
		const { kind, currentEfficiency } = runEfficiency(run);
		expect(kind).toBe("plausible");
		expectNear(currentEfficiency, 0.6, 1e-4);
	});
	it("takes back what Faraday's law made, over four cells in series", () => {
		const strengthGPerL = chlorineMadeG({ currentA: 6, runMinutes: 80, currentEfficiency: 0.66, cellsInSeries: 4 }) / 5;
		const result = runEfficiency({ currentA: 6, runMinutes: 80, volumeL: 5, strengthGPerL, cellsInSeries: 4 });
		expectNear(result.currentEfficiency, 0.66, 1e-12);
	});
	it("says that a figure is wrong when a run made more than its current can", () => {
		expect(runEfficiency({ ...run, currentA: 10 }).kind).toBe("aboveFaraday");
	});
	it("refuses a run of 0 minutes", () => {
		expect(() => runEfficiency({ ...run, runMinutes: 0 })).toThrow("run in minutes must be 1 to 2880, got 0");
	});
});

/** Efficiencies of a cell that loses `drift` of its efficiency each run after the sixth, with lognormal test error. */
function runsOf(drift: number, lnSd: number, count: number, seed: number): number[] {
	const random = xoroshiro128plus(Math.imul(seed + 1, 0x9e3779b1));
	return Array.from({ length: count }, (_, i) => {
		const noise = lnSd * normalQuantile(Math.min(1 - 1e-12, Math.max(1e-12, uniformFloat64(random))));
		return Math.min(1.1, 0.65 * (1 - drift) ** Math.max(0, i - 5) * Math.exp(noise));
	});
}

describe("care of the electrode", () => {
	it("asks for two runs beyond the six of the baseline before it says anything", () => {
		expect(electrodeCare([0.6, 0.62, 0.61])).toEqual({ kind: "tooFewRuns", moreRuns: 5 });
	});
	it("leaves a cell alone whose runs stay at 0.60 to 0.66", () => {
		const care = electrodeCare([0.62, 0.64, 0.61, 0.65, 0.63, 0.62, 0.66, 0.6, 0.63, 0.64, 0.61, 0.65]);
		expect(care.kind).toBe("steady");
	});
	it.each([
		{ drift: 0.005, runs: 70 },
		{ drift: 0.01, runs: 40 },
		{ drift: 0.02, runs: 25 },
	])("alarms before the true efficiency is under 0.75 of clean in 95 of 100 cells that lose $drift a run", ({ drift, runs }) => {
		const failsAt = 6 + Math.ceil(Math.log(0.75) / Math.log(1 - drift));
		const early = Array.from({ length: 400 }, (_, seed) => runsOf(drift, 0.08, runs, seed)).filter((efficiencies) => {
			for (let count = 8; count < failsAt; count++) {
				if (electrodeCare(efficiencies.slice(0, count)).kind === "needsCare") return true;
			}
			return false;
		}).length;
		expect(early / 400).toBeGreaterThanOrEqual(0.95);
	});
	it("alarms falsely within 30 runs in fewer than 1 of 12 cells that don't change", () => {
		const falsely = Array.from({ length: 400 }, (_, seed) => runsOf(0, 0.08, 30, 1000 + seed)).filter((efficiencies) => {
			for (let count = 8; count <= 30; count++) {
				if (electrodeCare(efficiencies.slice(0, count)).kind === "needsCare") return true;
			}
			return false;
		}).length;
		expect(falsely / 400).toBeLessThan(1 / 12);
	});
	it("tells the runs that are left until batches fail, and the trend", () => {
		const care = electrodeCare([0.65, 0.64, 0.64, 0.63, 0.63, 0.62, 0.62, 0.61, 0.6, 0.6]);
		if (care.kind === "tooFewRuns") throw new Error(care.kind);
		// Computed independently: ln slope about -0.0088 a run from 0.60 to 0.75 of 0.635.
		expect(care.runsUntilFailing).toBeGreaterThan(20);
		expect(care.runsUntilFailing).toBeLessThan(30);
		expect(care.trend.s).toBeLessThan(0);
		expect(care.trend.twoSidedP).toBeLessThan(0.001);
	});
	it("says failing when the last runs are under 0.75 of clean, and 0 runs are left", () => {
		const care = electrodeCare([0.65, 0.64, 0.66, 0.65, 0.64, 0.66, 0.45, 0.44, 0.43]);
		expect(care).toMatchObject({ kind: "needsCare", reason: "failing", runsUntilFailing: 0 });
	});
	it("points to the run after which the fall began", () => {
		const care = electrodeCare([0.65, 0.64, 0.66, 0.65, 0.64, 0.66, 0.65, 0.56, 0.55, 0.54, 0.53]);
		expect(care).toMatchObject({ kind: "needsCare", reason: "changePoint", signal: { direction: "down" } });
	});
	it("refuses an efficiency of 0", () => {
		expect(() => electrodeCare([0, 0.6])).toThrow("current efficiency (share of 1) must be 0.01 to 1.12, got 0");
	});
});
