import { XMLValidator } from "fast-xml-parser";
import { addDoseCard } from "../../src/cli/dose-card/command.js";
import { addForecast } from "../../src/cli/forecast/command.js";
import { exitCodeOf } from "../../src/cli/program.js";
import { doseFor } from "../../src/science/dose.js";

async function ran(...args: string[]) {
	const told = { out: "", err: "", files: new Map<string, string>() };
	const outlets = {
		out: (text: string) => {
			told.out += text;
		},
		err: (text: string) => {
			told.err += text;
		},
		write: async (path: string, text: string) => void told.files.set(path, text),
	};
	return { code: await exitCodeOf(args, [addForecast, addDoseCard], outlets), ...told };
}

describe("the forecast command", () => {
	// Source: closed form after Adam et al. 1992 at constant 30 °C, pH 9 measured at 25 °C, 0.5 mol/L of salt: 4.5210 g/L after
	// 7 days and 4.0893 after 14, computed independently. The command's own curve covers both paths, so it may lie 0.02 lower.
	it("shows 4.521 g/L by record after 7 days at 30 °C, pH 9, and 4.089 after 14", async () => {
		const climate = ["--ph", "9", "--salt-g-per-l", "29.22", "--day-c", "30", "--night-c", "30"];
		const { out, code } = await ran("forecast", "--strength", "5", ...climate, "--days", "14", "--json");
		const rows = JSON.parse(out).rows as { day: number; byRecordGPerL: number }[];
		const on = (day: number) => rows.find((row) => row.day === day)?.byRecordGPerL ?? Number.NaN;
		expect(code).toBe(0);
		expect(Math.abs(on(14) - 4.0893)).toBeLessThan(0.02);
		expect(Math.abs(on(6) - 4.5867)).toBeLessThan(0.03);
	});

	it("says the same to the byte for the same arguments, and marks what was assumed", async () => {
		const once = await ran("forecast", "--strength", "5", "--ph", "9");
		expect((await ran("forecast", "--strength", "5", "--ph", "9")).out).toBe(once.out);
		expect(once.out).toContain("salt 30 g/L*");
		expect(once.out).not.toContain("pH 9 by strip*");
	});

	it("is surer and asks later after a test that reads what was expected", async () => {
		const retest = async (...tests: string[]) => {
			const { out } = await ran("forecast", "--strength", "5", "--ph", "9", "--age-days", "4", ...tests, "--json");
			const { retest: due, rows } = JSON.parse(out);
			return { day: due.day as number, width: (rows[0].highGPerL - rows[0].lowGPerL) as number };
		};
		const without = await retest();
		const tested = await retest("--test", "day 4: 2 at 1 mL in 2 L");
		expect(tested.width).toBeLessThan(without.width);
		expect(tested.day).toBeGreaterThan(without.day);
	});

	it("draws well-formed SVG under 20 kB with a title, a description, no script and no NaN, open-top tests included", async () => {
		const { files } = await ran("forecast", "--strength", "5", "--test", "day 2: 5+ at 1 mL in 1 L", "--svg", "x.svg");
		const svg = files.get("x.svg") ?? "";
		expect(XMLValidator.validate(svg)).toBe(true);
		expect(svg.length).toBeLessThan(20_000);
		expect(svg).toMatch(/<title>.+<\/title>\n<desc>.+<\/desc>/);
		expect(svg).not.toMatch(/NaN|Infinity|<script|undefined/);
	});

	it("names every option that is wrong at once, with what would be right, and ends with 2", async () => {
		const { code, err } = await ran(
			"forecast",
			"--strength",
			"50",
			"--days",
			"0",
			"--wall",
			"glas",
			"--test",
			"day x",
			"--colour",
			"red",
		);
		expect(code).toBe(2);
		for (const part of [
			"--strength must be a number from 0.5 to 15 g/L",
			"--days must be",
			"--wall must be one of",
			"--test must be such as",
			"--colour is no option",
		])
			expect(err).toContain(part);
	});
});

describe("the dose card command", () => {
	it("shows the volume that the dose rule gives, for three strengths", async () => {
		for (const strength of [3.8, 4.4, 5.2]) {
			const { out } = await ran("dose-card", "--strength", String(strength), "--volumes", "20", "--json");
			const answer = doseFor({
				strength: { lowGPerL: strength, medianGPerL: strength, highGPerL: strength },
				waterVolumeL: 20,
				turbidity: "clear",
				waterTemperatureC: 24,
			});
			expect(JSON.parse(out).water[0].answer.volumeMl).toBe(answer.kind === "dose" ? answer.volumeMl : "no dose");
		}
	});

	// Source: dose x water / strength: 1.875 mg/L in 20 L from 5 g/L is 7.5 mL (worked example, computed).
	it("asks for 7.5 mL for 20 L of clear water from 5 g/L", async () => {
		expect((await ran("dose-card", "--strength", "5", "--volumes", "20")).out).toMatch(/20 L\s+clear\s+7\.5 mL/);
	});

	it("says test first where the interval leaves no dose for cloudy water, and too weak under 0.5 g/L", async () => {
		expect((await ran("dose-card", "--strength", "5", "--low", "2.8", "--high", "7", "--volumes", "20")).out).toMatch(
			/cloudy\s+-\s+test the bleach first/,
		);
		expect((await ran("dose-card", "--strength", "0.4", "--volumes", "20")).out).toContain("too weak: make new bleach");
	});

	it("refuses a low end above the strength and a measure that isn't one", async () => {
		const { code, err } = await ran("dose-card", "--strength", "4", "--low", "5", "--measure", "bucket:3");
		expect(code).toBe(2);
		expect(err).toContain("--low must not be above the strength, 4 g/L");
		expect(err).toContain("--measure must be syringe");
	});
});
