import { join } from "node:path";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import type { AddCommand, Outlets } from "../program.js";

/** "7", "1-20" or "3,5,101-120". @returns each number once, in order; undefined where it isn't such a list */
export function seedsFrom(text: string): number[] | undefined {
	const seeds = text.split(",").map((part) => /^(\d{1,6})(?:-(\d{1,6}))?$/.exec(part.trim()));
	if (seeds.some((found) => found === null)) return undefined;
	const numbers = seeds.flatMap((found) => {
		const from = Number(found?.[1]);
		const until = Number(found?.[2] ?? found?.[1]);
		return Array.from({ length: Math.max(0, until - from + 1) }, (_, i) => from + i);
	});
	return numbers.length > 0 && numbers.length <= MOST_SEEDS ? [...new Set(numbers)] : undefined;
}

const MOST_SEEDS = 1000;
const SEEDS_RIGHT = `must be numbers and ranges, such as 101-120 or 1,2,7; ${MOST_SEEDS} at most`;

const options = z.strictObject({
	households: z.coerce.number().int("must be whole").min(10, "must be at least 10").max(20_000, "must be at most 20000"),
	days: z.coerce.number().int("must be whole days").min(1, "must be at least 1 day").max(365, "must be at most 365 days"),
	seeds: z
		.string()
		.transform(seedsFrom)
		.refine((seeds) => seeds !== undefined, SEEDS_RIGHT)
		.transform((seeds) => seeds as number[]),
	ways: z.string().transform((text) => text.split(",").map((name) => name.trim())),
	out: z.string().min(1),
});

type SimulateOptions = z.output<typeof options>;

/** Lets a year go by for invented programmes that work in several ways in the same world, and reports what came of each. */
export const addSimulate: AddCommand = (program, outlets) => {
	program
		.command("simulate")
		.description(
			"Let a year go by for invented programmes that work in several ways in the same worlds, through the program's own services, and report what came of each.",
		)
		.option("--households <number>", "size of a programme; 60 volunteers and 8 generators to 2000 households", "200")
		.option("--days <days>", "virtual days that go by", "365")
		.option("--seeds <seeds>", "worlds, such as 101-120", "101-103")
		.option(
			"--ways <names>",
			"ways of working: days-7, days-3, residual, program, sparing",
			"days-7,days-3,residual,program,sparing",
		)
		.option("--out <folder>", "where runs and report are kept; runs that are there already aren't run again", "data/simulation")
		.action(async (given: unknown) => {
			const parsed = options.safeParse(given);
			if (!parsed.success) {
				const problems = parsed.error.issues.map((issue) => ({ at: `--${String(issue.path[0])}`, message: issue.message }));
				throw new InputError("invalid-input", problems.map(({ at, message }) => `${at} ${message}`).join("\n"), { problems });
			}
			await simulate(parsed.data, outlets);
		});
};

async function simulate(options: SimulateOptions, { out, write }: Outlets): Promise<void> {
	// Loaded only here: the other commands shouldn't wait for the whole service.
	const { WAYS } = await import("../../simulation/ways.js");
	const unknown = options.ways.filter((name) => !WAYS.some((way) => way.name === name));
	if (unknown.length > 0)
		throw new InputError("invalid-input", `--ways must be among ${WAYS.map(({ name }) => name).join(", ")}`, {
			problems: [{ at: "--ways", message: `${unknown.join(", ")} isn't one of them` }],
		});
	const { simulateAll } = await import("./runs.js");
	const { reportOf } = await import("../../simulation/report.js");
	const results = await simulateAll({ ...options, ways: WAYS.filter(({ name }) => options.ways.includes(name)) }, out);
	for (const [name, text] of Object.entries(reportOf(results))) await write(join(options.out, name), text);
	out(`${results.length} runs, reported in ${join(options.out, "report.md")}\n`);
}
