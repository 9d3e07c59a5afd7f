import { doseFor } from "../../src/science/dose.js";
import { type SurfaceUse, surfaceUses } from "../../src/science/surface-uses.js";
import { ran } from "./ran.js";

async function cardOf(...options: string[]) {
	const { out, code, err } = await ran("dose-card", ...options, "--json");
	expect([code, err]).toEqual([0, ""]);
	return JSON.parse(out);
}

describe("the dose card command", () => {
	it("shows what the dose rule gives for three strengths, with the consequence, in both classes of water", async () => {
		for (const [strength, low, high] of [
			[3.8, 3.6, 4.1],
			[4.4, 3.9, 4.9],
			[5.2, 4.1, 6.6],
		] as const) {
			const interval = ["--low", String(low), "--high", String(high), "--made-strength", "6"];
			const { water } = await cardOf("--strength", String(strength), ...interval, "--volumes", "20", "--water-c", "17");
			const answers = (["clear", "cloudy"] as const).map((turbidity) =>
				doseFor({
					strength: { lowGPerL: low, medianGPerL: strength, highGPerL: high },
					waterVolumeL: 20,
					turbidity,
					waterTemperatureC: 17,
					// 5 % of 6 g/L from the start, 0.36439 g for each g lost. Source: see chlorate.ts.
					chlorateInStockMgPerL: 1000 * (0.05 * 6 + 0.36439 * (6 - strength)),
				}),
			);
			for (const [i, row] of water.entries()) {
				const { chlorateMgPerL, ...shown } = row.answer;
				const { chlorateMgPerL: expected, ...answer } = { ...answers[i] } as Record<string, unknown>;
				expect(shown).toEqual(JSON.parse(JSON.stringify(answer)));
				expect(chlorateMgPerL).toBeCloseTo(Number(expected), 4);
			}
		}
	});

	// Source: dose x water / strength: 1.875 mg/L in 20 L from 5 g/L is 7.5 mL (worked example, computed independently).
	it("asks for 7.5 mL for 20 L of clear water from 5 g/L", async () => {
		expect((await ran("dose-card", "--strength", "5", "--volumes", "20")).out).toMatch(
			/20 L\s+clear\s+7\.5 mL\s+to 7\.5 mL\s+1\.88/,
		);
	});

	it("takes 4.1 to 6.1 g/L for a strength of 5 whose interval isn't given, and marks it", async () => {
		expect((await ran("dose-card", "--strength", "5")).out).toContain("5 g/L (4.1* to 6.1*)");
		expect((await cardOf("--strength", "5")).assumedOptions).toEqual(expect.arrayContaining(["--low", "--high", "--water-c"]));
	});

	it("counts in the measure at hand: 15 mL are three caps of 5 mL, 17 mL a full syringe and 7 mL", async () => {
		expect((await ran("dose-card", "--strength", "5", "--measure", "cap:5", "--volumes", "20")).out).toMatch(
			/cloudy\s+15 mL\s+3 caps/,
		);
		const certain = ["--strength", "4.4", "--low", "3.9", "--high", "4.9"];
		expect((await ran("dose-card", ...certain, "--volumes", "20")).out).toMatch(/cloudy\s+17 mL\s+1 full \+ 7 mL/);
	});

	it("says test first where no volume is right for both ends, and too weak under 0.5 g/L", async () => {
		expect((await ran("dose-card", "--strength", "5", "--low", "2.8", "--high", "7", "--volumes", "20")).out).toMatch(
			/cloudy\s+-\s+test the bleach first/,
		);
		expect((await ran("dose-card", "--strength", "0.4", "--volumes", "20")).out).toContain("too weak: make new bleach");
	});

	it("has no drinking-water dose from bleach under the programme's limit, but solutions for surfaces", async () => {
		const { water, surfaces } = await cardOf("--strength", "3", "--low", "2.9", "--high", "3.1");
		for (const { answer } of water) expect(answer).toEqual({ kind: "refused", reason: "underLimit" });
		expect(surfaces.find((row: { use: string }) => row.use === "laundry").solution.kind).toBe("solution");
		expect((await cardOf("--strength", "3", "--low", "2.9", "--high", "3.1", "--limit", "2")).water[0].answer.kind).toBe("dose");
	});

	it("says to test where the weak end is under the limit, and not where it isn't", async () => {
		const card = async (low: string) => (await ran("dose-card", "--strength", "4.4", "--low", low, "--high", "4.9")).out;
		expect(await card("3.4")).toContain("Test the bleach: there is more than 1 chance in 20 that it is under 3.5 g/L.");
		expect(await card("3.6")).not.toContain("Test the bleach:");
	});

	it("gives water over 100 NTU no dose, and says what to do first", async () => {
		expect((await ran("dose-card", "--strength", "5")).out).toMatch(/over 100 NTU\s+-\s+settle, filter or flocculate/);
		expect((await cardOf("--strength", "5")).veryTurbidWater).toEqual({ kind: "refused", reason: "tooTurbid" });
	});

	it("waits 60 minutes at pH 8 and above, 30 below", async () => {
		const wait = async (...options: string[]) => (await cardOf("--strength", "5", ...options)).water[0].answer.contactMinutes;
		expect([await wait(), await wait("--ph-class", "above8"), await wait("--ph-class", "below8")]).toEqual([30, 60, 30]);
	});

	// Source: C1·V1 = C2·V2 from the weak end: 4 g/L to 1 g/L in 10 L takes 2.5 L, 3 parts of water to 1 (computed independently).
	it("makes 10 L of 0.1 % from a weak end of 4 g/L with 2500 mL of bleach, 3 parts of water to one", async () => {
		const { out } = await ran("dose-card", "--strength", "4.4", "--low", "4", "--high", "4.9");
		expect(out).toMatch(/what many hands touch\s+0\.10-0\.12 %\s+3\.0\s+2500 mL\s+7500 mL\s+10 min/);
	});

	it("never rounds a surface solution to less than its use asks for, and has a row for every use", async () => {
		for (const low of ["3.7", "4.13", "4.5", "4.77"]) {
			const { out } = await ran("dose-card", "--strength", "5", "--low", low, "--high", "5.5");
			const { surfaces } = await cardOf("--strength", "5", "--low", low, "--high", "5.5");
			expect(surfaces.map(({ use }: { use: string }) => use)).toEqual(Object.keys(surfaceUses));
			for (const [i, line] of out
				.split("\n")
				.filter((text) => /%\s+([\d.]+|undiluted)\s+\d+ mL/.test(text))
				.entries()) {
				const { wantGPerL } =
					surfaceUses[
						surfaces.filter((row: { solution: { kind: string } }) => row.solution.kind === "solution")[i].use as SurfaceUse
					];
				const parts = Number(/%\s+([\d.]+)\s/.exec(line)?.[1] ?? 0);
				const bleachMl = Number(/(\d+) mL/.exec(line)?.[1]);
				expect(Number(low) / (1 + parts)).toBeGreaterThanOrEqual(wantGPerL);
				expect((Number(low) * bleachMl) / 10_000).toBeGreaterThanOrEqual(wantGPerL);
			}
		}
	});

	it("refuses ends and strengths that can't be, a measure that isn't one and too many volumes, all at once", async () => {
		const ends = ["--strength", "4", "--low", "5", "--high", "3", "--made-strength", "3.5"];
		const { code, err } = await ran("dose-card", ...ends, "--measure", "bucket:3", "--volumes", "10,,20");
		expect(code).toBe(2);
		for (const part of [
			"--low must not be above the strength, 4 g/L",
			"--high must not be below the strength, 4 g/L",
			"--made-strength must not be below the strength today, 4 g/L",
			"--measure must be syringe:",
			"--volumes must be 1 to 12 numbers from 0.25 to 1000 L with commas between them",
		])
			expect(err).toContain(part);
	});
});
