import { exitCodeOf } from "../../src/cli/program.js";
import { addSimulate, seedsFrom } from "../../src/cli/simulate/command.js";

async function said(args: readonly string[]): Promise<{ code: number; err: string }> {
	const errors: string[] = [];
	const outlets = { out: () => undefined, err: (text: string) => errors.push(text), write: async () => undefined };
	const code = await exitCodeOf(["simulate", ...args], [addSimulate], outlets);
	return { code, err: errors.join("") };
}

describe("simulate", () => {
	it("reads seeds as numbers and ranges, each once", () => {
		expect(seedsFrom("101-103,7, 102")).toEqual([101, 102, 103, 7]);
		for (const wrong of ["", "a", "3-1", "1-2000", "1;2", "-5"]) expect(seedsFrom(wrong)).toBeUndefined();
	});

	it.each([
		[["--seeds", "ten"], "--seeds must be numbers and ranges, such as 101-120"],
		[["--households", "5"], "--households must be at least 10"],
		[["--days", "366"], "--days must be at most 365 days"],
		[["--ways", "days-7,weekly"], "--ways must be among days-7, days-3, residual, program, sparing"],
	])("refuses %j and says what would be right", async (args, right) => {
		const { code, err } = await said(args);
		expect(code).toBe(2);
		expect(err).toContain(right);
	});
});
