import { rm } from "node:fs/promises";
import { join } from "node:path";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import type { AddCommand, Outlets } from "../program.js";

const options = z.strictObject({
	days: z.coerce.number().int("must be whole days").min(1, "must be at least 1 day").max(60, "must be at most 60 days"),
	start: z.coerce
		.number()
		.int("must be a whole number")
		.min(0)
		.max(2 ** 31 - 1),
	data: z.string().min(1),
	port: z.coerce.number().int().min(0).max(65_535),
	once: z.boolean(),
	quiet: z.boolean(),
});

type DemoOptions = z.output<typeof options>;

/** Loads the invented district, lets days go by on a virtual clock, and stays up. */
export const addDemo: AddCommand = (program, outlets) => {
	program
		.command("demo")
		.description(
			"Load an invented district, let two weeks of it go by in seconds, tell what happened, and stay up at an address.",
		)
		.option("--days <days>", "virtual days that go by", "14")
		.option("--start <number>", "another number, another district", "1")
		.option("--data <folder>", "where its database is made anew; what lay there is removed", "data/demo")
		.option("--port <port>", "where the service listens afterwards", "8080")
		.option("--once", "end after the days have gone by", false)
		.option("--quiet", "count what happened, but don't tell each line", false)
		.action(async (given: unknown) => {
			const parsed = options.safeParse(given);
			if (!parsed.success) {
				const problems = parsed.error.issues.map((issue) => ({ at: `--${String(issue.path[0])}`, message: issue.message }));
				throw new InputError("invalid-input", problems.map(({ at, message }) => `${at} ${message}`).join("\n"), { problems });
			}
			await demo(parsed.data, outlets);
		});
};

async function demo(options: DemoOptions, { out }: Outlets): Promise<void> {
	// Loaded only here: the other commands shouldn't wait for the whole service.
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { district } = await import("../../demo/district.js");
	const { DemoClock, demoDays } = await import("../../demo/demo.js");
	const { DEMO_TIME_ZONE } = await import("../../demo/places.js");
	const { DemoNotifier } = await import("../../demo/notifier.js");
	const { demoStartMs } = await import("../../demo/run.js");
	const { TIMELINE_NOTICE, timelineLines } = await import("../../demo/timeline.js");
	const { simulatedPeople } = await import("../../demo/volunteers.js");
	const { ConsoleNotifier } = await import("../../messages/channels/console.js");
	const { keyFileIn } = await import("../../store/sealing/key-file.js");
	const { afterDemo } = await import("../../demo/afterwards.js");

	for (const file of ["jarwatch.sqlite", "jarwatch.sqlite-wal", "jarwatch.sqlite-shm"])
		await rm(join(options.data, file), { force: true });
	// Made here, so that the story isn't begun by a word about its backup.
	keyFileIn(options.data);
	const began = performance.now();
	const startAtMs = demoStartMs(Date.now(), options.days);
	const place = district({ start: options.start, startAtMs });
	const clock = new DemoClock(startAtMs, () => Date.now());
	const notifier = new DemoNotifier(simulatedPeople(place), new ConsoleNotifier(process.stdout));
	const settings = settingsFrom({
		JARWATCH_DATA_FOLDER: options.data,
		JARWATCH_PORT: String(options.port),
		JARWATCH_LOG_LEVEL: "warn",
		// A phone that is switched off is all that fails here: it mustn't hold up everybody else's.
		JARWATCH_CIRCUIT_FAILURES: "1000",
	});
	const service = await preparedService(settings, {
		clock,
		notifiers: [notifier],
		log: newLog("warn"),
		api: !options.once,
	});
	const { events } = await demoDays(service.app, clock, notifier, place, { ...options, startAtMs });
	const style = { timeZone: DEMO_TIME_ZONE, colours: process.stdout.isTTY === true };
	out(`${TIMELINE_NOTICE}\n\n`);
	if (!options.quiet) for (const line of timelineLines(events, style)) out(`${line}\n`);
	out(`\n${(await afterDemo(service.app, place, events)).join("\n")}\n`);
	out(`${options.days} days went by in ${((performance.now() - began) / 1000).toFixed(1)} s.\n`);
	if (options.once) return service.stop();
	notifier.goOnByHand();
	clock.letGo();
	await service.start();
	out(`\nThe service stays up at ${service.address()}, described at ${service.address()}/docs. Ctrl-C ends it.\n`);
}
