import type { INestApplicationContext } from "@nestjs/common";
import type { VirtualClock } from "../time/clock.js";
import type { CalibrationPoint } from "./calibration.js";
import type { Outcome } from "./outcome.js";
import type { SimulatedPhones } from "./phone.js";
import { type ProgrammeSize, simulatedProgramme } from "./programme.js";
import { SimulatedRun } from "./run.js";
import { simulatedServices } from "./services.js";
import { policyOf, type Way } from "./ways.js";

/** One programme, one way of working, one seed. */
export interface OneRun {
	readonly seed: number;
	readonly size: ProgrammeSize;
	readonly way: Way;
	readonly days: number;
}

export interface RunResult {
	readonly outcome: Outcome;
	readonly calibration: readonly CalibrationPoint[];
}

/** @param program without loops of its own, on an empty database, with the simulation's clock and phones */
export async function runOne(
	program: INestApplicationContext,
	clock: VirtualClock,
	phones: SimulatedPhones,
	{ seed, size, way, days }: OneRun,
): Promise<RunResult> {
	const programme = simulatedProgramme(seed, size, policyOf(way));
	const run = new SimulatedRun(simulatedServices(program, clock), phones, programme, way, days);
	return { outcome: await run.outcome(), calibration: run.calibration };
}
