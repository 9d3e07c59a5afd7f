import type { Exposure, Wall } from "../science/exposure.js";
import { exposureOver } from "../science/journey.js";
import { strengthAtChanceGPerL, underChanceOf } from "../science/under-chance.js";
import { jarBelief } from "../stock/forecast.js";
import { jarFacts, jarRows } from "../stock/jar-facts.js";
import type { TrueJars } from "./jars.js";
import type { SimulatedServices } from "./services.js";

/** Where the truth of one jar lay in what was believed of it at an instant. */
export interface CalibrationPoint {
	readonly seed: number;
	readonly day: number;
	readonly wall: Wall;
	/** Where it really stood. */
	readonly exposure: Exposure;
	readonly tests: number;
	readonly trueGPerL: number;
	/** What was believed: as likely more as less. */
	readonly medianGPerL: number;
	/** Chance that was given to its being weaker than it was, 0 to 1: evenly spread where beliefs are as sure as they may be. */
	readonly chanceBelow: number;
}

/** @returns a point for each jar that volunteers hold */
export async function calibrationPoints(
	{ store, calendars }: SimulatedServices,
	jars: TrueJars,
	seed: number,
	day: number,
	atMs: number,
): Promise<CalibrationPoint[]> {
	const filed = (await jars.withVolunteers()).filter(({ setAsideUntilMs }) => setAsideUntilMs === null);
	const rows = await jarRows(
		store,
		filed.map(({ id }) => id),
	);
	const facts = await jarFacts(store, calendars, rows, new Map());
	const points: CalibrationPoint[] = [];
	for (const jar of filed) {
		const of = facts.get(jar.id);
		if (!of) continue;
		const trueGPerL = await jars.strengthGPerL(jar, atMs);
		const under = underChanceOf(jarBelief(of));
		const lived = exposureOver(of, of.madeAtMs, atMs);
		const chanceBelow = under(lived, trueGPerL);
		const medianGPerL = strengthAtChanceGPerL(under, lived, 0.5, 20 * of.prior.medianInitialGPerL);
		const exposure = await jars.exposure(jar);
		points.push({ seed, day, wall: jar.wall, exposure, tests: of.tests.length, trueGPerL, medianGPerL, chanceBelow });
	}
	return points;
}
