import { dirname } from "node:path";
import { addCoverage } from "../../src/cli/coverage/command.js";
import { exitCodeOf } from "../../src/cli/program.js";
import { DAY_MS } from "../../src/time/clock.js";
import { inventedFacts, putFacts } from "../audit/coverage-facts.js";
import { newStore, TEST_KEY } from "../support/stores.js";

async function ran(...args: string[]) {
	const told = { out: "", err: "" };
	const outlets = {
		out: (text: string) => {
			told.out += text;
		},
		err: (text: string) => {
			told.err += text;
		},
		write: async () => undefined,
	};
	return { code: await exitCodeOf(["coverage", ...args], [addCoverage], outlets), ...told };
}

describe("coverage on the command line", () => {
	let remove: () => Promise<void>;
	beforeAll(async () => {
		const store = await newStore("sqlite");
		remove = () => store.remove();
		process.env["JARWATCH_DATA_KEY"] = TEST_KEY;
		process.env["JARWATCH_DATA_FOLDER"] = dirname(store.writer.options.database as string);
		await putFacts(store, inventedFacts(41, Date.UTC(2026, 2, 10) - DAY_MS));
	});
	afterAll(async () => {
		delete process.env["JARWATCH_DATA_FOLDER"];
		delete process.env["JARWATCH_DATA_KEY"];
		await remove();
	});

	it("is a table a person reads: each figure with what it was counted from, its interval and what is missing", async () => {
		const { code, out, err } = await ran("--area", "NAT", "--from", "2026-01-01", "--to", "2026-01-31");
		expect([code, err]).toEqual([0, ""]);
		const lines = out.split("\n");
		expect(lines[0]).toBe("COVERAGE of NAT (invented) (NAT) with all below it");
		expect(lines[1]).toBe("from 2026-01-01 to 2026-01-31 (Africa/Nairobi)");
		expect(lines.find((line) => line.startsWith("Households assigned"))).toMatch(
			/^Households assigned +\d+ +120 +\d+\.\d % +\d+\.\d - \d+\.\d +0$/,
		);
		expect(lines.find((line) => line.startsWith("share"))).toMatch(/EAST +WEST$/);
	});

	it("tells on demand what each figure means and where the definition comes from", async () => {
		const { out } = await ran("--area", "EAST", "--from", "2026-01-01", "--to", "2026-01-31", "--words");
		expect(out).toContain(
			"Households with a positive free chlorine residual (residual-positive)\n  Households whose stored water held",
		);
		expect(out).toContain("  Source: WHO/UNICEF 2012");
	});

	it("refuses an area that there isn't and days that don't exist with 2, and says what would be right", async () => {
		const unknown = await ran("--area", "NONE", "--from", "2026-01-01", "--to", "2026-01-31");
		expect([unknown.code, unknown.err]).toEqual([2, "There is no area with the code NONE.\n"]);
		const day = await ran("--area", "NAT", "--from", "2026-02-30", "--to", "2026-01-31");
		expect(day.code).toBe(2);
		expect(day.err).toContain('--from must be a date from 2000 to 2099 such as 2026-03-01, got "2026-02-30"');
	});
});
