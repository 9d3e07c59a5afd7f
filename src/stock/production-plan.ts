import type { Policy } from "../programme/policy.js";
import { rounded } from "../science/rounded.js";
import { DAY_MS } from "../time/clock.js";
import { type StockJar, sumAt } from "./restock.js";

/** What a volunteer will want of a production point. */
export interface Want {
	readonly volunteerId: string;
	/** When her stock will have fallen to the level at which she collects. */
	readonly wantAtMs: number;
	readonly volumeMl: number;
	/** What her households use, g of available chlorine a day. */
	readonly chlorineGPerDay: number;
	/** When nothing usable will be left with her. */
	readonly outAtMs: number | null;
}

/** One run of a generator: litres, g, minutes, A h. */
export interface RunFigures {
	readonly litresPerRun: number;
	readonly strengthGPerL: number;
	readonly minutesPerRun: number;
	readonly saltGPerRun: number;
	readonly chargeAhPerRun: number;
}

/** What a generator is to make, and why; 0 runs where nothing is needed. */
export interface ProductionPlan {
	readonly runs: number;
	readonly litres: number;
	/** Water measured into the runs, L. */
	readonly waterL: number;
	readonly saltG: number;
	readonly minutes: number;
	readonly chargeAh: number;
	/** Of test reagent, for one test of each batch. */
	readonly reagentDrops: number;
	/** When the bleach must stand at the point: the first want that what stands there doesn't serve. */
	readonly byMs: number;
	/** When it must be asked for. None: nothing is needed. */
	readonly dueAtMs: number | null;
	/** Volunteers whose wants it serves, and what they want of it, L. */
	readonly volunteers: number;
	readonly wantedL: number;
	/** What the point keeps for itself, and what usable bleach stands there already, L of the planned strength. */
	readonly reserveL: number;
	readonly standingL: number;
	/** When the first of its volunteers will have nothing usable left, if nothing is made. */
	readonly outAtMs: number | null;
}

/**
 * Puts the wants of volunteers and of the production point together into one plan.
 *
 * @param wants those that it serves; they count up to the end of what the plan looks at
 * @param standing jars at the point; bleach counts by its chlorine, as far as it stays usable until new bleach is there
 * @returns whole runs, rounded up, and what they take
 * Source: own rule: missing = wants of the time + reserve - what stands there; runs = missing / litres a run.
 */
export function productionPlan(
	wants: readonly Want[],
	standing: readonly StockJar[],
	run: RunFigures,
	nowMs: number,
	policy: Policy,
): ProductionPlan {
	const { makeLeadDays, planDays, pointReserveDays, reagentDropsPerTest } = policy.stock;
	const untilMs = nowMs + (makeLeadDays + planDays) * DAY_MS;
	const counted = wants
		.filter(({ wantAtMs, volumeMl }) => wantAtMs <= untilMs && volumeMl > 0)
		.sort((a, b) => a.wantAtMs - b.wantAtMs);
	const wantedMl = counted.reduce((sum, { volumeMl }) => sum + volumeMl, 0);
	const usePerDayG = wants.reduce((sum, { chlorineGPerDay }) => sum + chlorineGPerDay, 0);
	const reserveMl = ((usePerDayG * pointReserveDays) / run.strengthGPerL) * 1000;
	const standingMl = (sumAt(standing, nowMs, nowMs + makeLeadDays * DAY_MS, policy).g / run.strengthGPerL) * 1000;
	const missingMl = wantedMl + reserveMl - standingMl;
	const runs = missingMl > 0.5 ? Math.ceil(missingMl / 1000 / run.litresPerRun - 1e-9) : 0;
	const byMs = firstUnservedMs(counted, standingMl) ?? untilMs;
	const outs = counted.flatMap(({ outAtMs }) => outAtMs ?? []);
	return {
		runs,
		litres: runs * run.litresPerRun,
		waterL: runs * run.litresPerRun,
		saltG: Math.ceil(runs * run.saltGPerRun),
		minutes: runs * run.minutesPerRun,
		chargeAh: Math.ceil(runs * run.chargeAhPerRun * 10) / 10,
		reagentDrops: runs * reagentDropsPerTest,
		byMs,
		dueAtMs: runs === 0 ? null : byMs - makeLeadDays * DAY_MS,
		volunteers: counted.length,
		wantedL: rounded(wantedMl / 1000, 2),
		reserveL: rounded(reserveMl / 1000, 2),
		standingL: rounded(standingMl / 1000, 2),
		outAtMs: outs.length > 0 ? Math.min(...outs) : null,
	};
}

/** @param wants by time @returns when the first comes that what stands there doesn't serve any more */
function firstUnservedMs(wants: readonly Want[], standingMl: number): number | undefined {
	let left = standingMl;
	for (const { wantAtMs, volumeMl } of wants) {
		left -= volumeMl;
		if (left < -0.5) return wantAtMs;
	}
	return undefined;
}
