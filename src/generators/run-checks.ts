import type { Problem } from "../errors/errors.js";
import type { GeneratorRules } from "../programme/generator-rules.js";
import { MINUTE_MS } from "../time/clock.js";
import type { GeneratorRow } from "./rows.js";
import type { GeneratorRunRow, PowerSource } from "./run-rows.js";

/** What of a run is checked before it is kept. */
export type CheckedRun = Pick<
	GeneratorRunRow,
	"startedAtMs" | "endedAtMs" | "saltG" | "waterL" | "powerSource" | "batteryId" | "currentA" | "restVoltageV"
> & { readonly isFurther: boolean };

export type RunField = "startedAt" | "endedAt" | "saltG" | "waterL" | "batteryCode" | "currentA" | "restVoltageV";

/** Two days: no small cell runs longer in one go; a forgotten end is a slip of the pen. Own choice. */
const LONGEST_RUN_MINUTES = 2880;
/** A vessel is filled a little over its mark now and then. Own choice. */
const OVERFULL = 1.1;
/** Less salt than this carries no current, and more than this doesn't dissolve. Source: as `saltNeededG`. */
const SALT_G_PER_L = { least: 1, most: 350 } as const;
/** A 12 V battery that is read above this isn't one, or the meter is wrong. */
export const MOST_REST_VOLTAGE_V = 20;
/** The clamps and leads of a car battery limit these; a panel and the mains have leads of their own. */
const BY_CLAMPS: ReadonlySet<PowerSource> = new Set(["battery", "running engine"]);

/**
 * Everything that is wrong with a run by itself; that two runs of a generator overlap only the database can tell.
 * @returns a problem for each field, named as the API and the files name it; none where the run may be kept
 */
export function runProblems(
	run: CheckedRun,
	generator: Pick<GeneratorRow, "batchVolumeL" | "ratedCurrentA">,
	rules: Pick<GeneratorRules, "mostCurrentA" | "mostCurrentOfRated">,
	nowMs: number,
): (Problem & { readonly at: RunField })[] {
	const problems: (Problem & { readonly at: RunField })[] = [];
	const refuse = (at: RunField, message: string) => void problems.push({ at, message });
	const { startedAtMs, endedAtMs } = run;
	if (startedAtMs > nowMs) refuse("startedAt", "must not be after now");
	if (endedAtMs !== null) {
		if (endedAtMs > nowMs) refuse("endedAt", "must not be after now");
		if (endedAtMs - startedAtMs < MINUTE_MS) refuse("endedAt", "must be at least a minute after the start");
		if (endedAtMs - startedAtMs > LONGEST_RUN_MINUTES * MINUTE_MS) refuse("endedAt", "must be at most 48 hours after the start");
	}
	if (!run.isFurther || run.waterL > 0) {
		const mostL = Math.round(generator.batchVolumeL * OVERFULL * 100) / 100;
		if (!(run.waterL >= 0.1 && run.waterL <= mostL))
			refuse("waterL", `must be 0.1 to ${mostL} (L): the vessel holds ${generator.batchVolumeL} L`);
	}
	// Further minutes may be given more salt without more water: then the batch's own water dissolves it.
	const dissolvingL = run.waterL > 0 ? run.waterL : generator.batchVolumeL;
	const leastG = run.isFurther ? 0 : Math.round(SALT_G_PER_L.least * dissolvingL * 10) / 10;
	const mostG = Math.round(SALT_G_PER_L.most * dissolvingL);
	if (!(run.saltG >= leastG && run.saltG <= mostG))
		refuse("saltG", `must be ${leastG} to ${mostG} (g): more doesn't dissolve in ${dissolvingL} L`);
	if (run.currentA !== null) {
		const byRating = generator.ratedCurrentA * rules.mostCurrentOfRated;
		const mostA = Math.round((BY_CLAMPS.has(run.powerSource) ? Math.min(byRating, rules.mostCurrentA) : byRating) * 100) / 100;
		if (!(run.currentA >= 0.05 && run.currentA <= mostA))
			refuse("currentA", `must be 0.05 to ${mostA} (A): the generator is rated for ${generator.ratedCurrentA} A`);
	}
	if (run.batteryId !== null && run.powerSource !== "battery")
		refuse("batteryCode", 'must be left out where the power source isn\'t "battery"');
	if (run.restVoltageV !== null && !(run.restVoltageV >= 0 && run.restVoltageV <= MOST_REST_VOLTAGE_V))
		refuse("restVoltageV", `must be 0 to ${MOST_REST_VOLTAGE_V} (V), one 12 V battery at a time`);
	return problems;
}
