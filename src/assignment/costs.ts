import { distanceKm } from "../science/visit-times.js";
import type { AssignmentProblem, Candidate, PlacedHousehold } from "./problem.js";

/** A problem in figures: items (households, or groups of neighbouring ones) by candidates. */
export interface Costs {
	readonly items: number;
	readonly candidates: number;
	/** Households in each item. */
	readonly weight: Float64Array;
	/** items x candidates, km; infinite where the candidate may not have the item. */
	readonly costKm: Float64Array;
	readonly litresPerDay: Float64Array;
	/** items x candidates, hours a week: visits, and the way there and back for each. */
	readonly hoursPerWeek: Float64Array;
	readonly most: Limits;
	/** Households up to which a load is even. */
	readonly evenHouseholds: Float64Array;
	/** By candidate, what a load above that costs: each further step costs more, so that it is shared. */
	readonly steps: readonly (readonly UnevenStep[])[];
	/** What leaving a household over is taken to cost: more than any chain of moves that could make room for it. */
	readonly leftOverKm: number;
}

/** So many households, each for so much. */
export interface UnevenStep {
	readonly households: number;
	readonly km: number;
}

/** A step is a quarter of the even share; from the last on each household costs the same. Own choice. */
const STEPS_A_SHARE = 4;
const MOST_STEPS = 6;

/** By candidate; infinite where there is no limit. */
export interface Limits {
	readonly households: Float64Array;
	readonly litresPerDay: Float64Array;
	readonly hoursPerWeek: Float64Array;
}

/** @returns the figures of a problem; the way from a volunteer's place to the household is counted once, along the ground */
export function costsOf({ candidates, households, terms }: AssignmentProblem): Costs {
	const [n, m] = [households.length, candidates.length];
	const costKm = new Float64Array(n * m);
	const hoursPerWeek = new Float64Array(n * m);
	let largestKm = 1;
	for (const [i, household] of households.entries())
		for (const [j, candidate] of candidates.entries()) {
			const km = distanceKm(household, candidate);
			const cost = km + extraKm(household, candidate, terms);
			const isAllowed = household.staysWithId === null || household.staysWithId === candidate.id;
			costKm[i * m + j] = isAllowed ? cost : Number.POSITIVE_INFINITY;
			hoursPerWeek[i * m + j] = terms.visitsPerWeek * (terms.visitMinutes / 60 + (2 * km) / terms.walkingKmPerH);
			if (cost > largestKm) largestKm = cost;
		}
	const mostHouseholds = Float64Array.from(candidates, (candidate) => candidate.mostHouseholds);
	const room = mostHouseholds.reduce((sum, most) => sum + most, 0);
	const share = Math.min(1, (room > 0 ? n / room : 1) * terms.evenWithin);
	const even = mostHouseholds.map((most) => Math.ceil(most * share));
	return {
		items: n,
		candidates: m,
		weight: new Float64Array(n).fill(1),
		costKm,
		litresPerDay: Float64Array.from(households, (household) => household.litresPerDay),
		hoursPerWeek,
		most: {
			households: mostHouseholds,
			litresPerDay: Float64Array.from(candidates, (c) => c.mostLitresPerDay ?? Number.POSITIVE_INFINITY),
			hoursPerWeek: Float64Array.from(candidates, (c) => c.mostHoursPerWeek ?? Number.POSITIVE_INFINITY),
		},
		evenHouseholds: even,
		steps: Array.from(mostHouseholds, (most, j) => stepsOf(most, even[j] as number, terms.unevenKm)),
		leftOverKm: (m + 1) * (largestKm + MOST_STEPS * terms.unevenKm),
	};
}

function stepsOf(most: number, even: number, unevenKm: number): UnevenStep[] {
	const width = Math.max(1, Math.ceil(even / STEPS_A_SHARE));
	const steps: UnevenStep[] = [];
	for (let left = most - even; left > 0; left -= width) {
		const isLast = steps.length === MOST_STEPS - 1;
		steps.push({ households: isLast ? left : Math.min(width, left), km: (steps.length + 1) * unevenKm });
		if (isLast) break;
	}
	return steps;
}

/** @returns what so many households above the even share cost, km */
function unevenCostKm(steps: readonly UnevenStep[], above: number): number {
	let [left, km] = [above, 0];
	for (const step of steps) {
		if (left <= 0) break;
		km += Math.min(left, step.households) * step.km;
		left -= step.households;
	}
	return km;
}

function extraKm(household: PlacedHousehold, candidate: Candidate, terms: AssignmentProblem["terms"]): number {
	const changes = household.todayId !== null && household.todayId !== candidate.id;
	const foreign = household.language !== null && primary(household.language) !== primary(candidate.language);
	return (changes ? terms.changeKm : 0) + (foreign ? terms.languageKm : 0);
}

/** The language alone: `sw-KE` and `sw` understand each other. */
export const primary = (language: string): string => (language.split("-")[0] as string).toLowerCase();

/** @returns the same with each group of items as one: their sums */
export function grouped(costs: Costs, groups: readonly (readonly number[])[]): Costs {
	const m = costs.candidates;
	const sums = (of: Float64Array, width: number) => {
		const summed = new Float64Array(groups.length * width);
		for (const [g, group] of groups.entries())
			for (const i of group)
				for (let j = 0; j < width; j++) summed[g * width + j] = (summed[g * width + j] as number) + (of[i * width + j] as number);
		return summed;
	};
	return {
		...costs,
		items: groups.length,
		weight: sums(costs.weight, 1),
		costKm: sums(costs.costKm, m),
		litresPerDay: sums(costs.litresPerDay, 1),
		hoursPerWeek: sums(costs.hoursPerWeek, m),
	};
}

/** @returns what a whole assignment costs, what is left over included; km */
export function costOf(costs: Costs, chosen: Int32Array): number {
	const load = new Float64Array(costs.candidates);
	let km = 0;
	for (const [i, j] of chosen.entries()) {
		if (j < 0) km += costs.leftOverKm * (costs.weight[i] as number);
		else {
			km += costs.costKm[i * costs.candidates + j] as number;
			load[j] = (load[j] as number) + (costs.weight[i] as number);
		}
	}
	for (const [j, households] of load.entries())
		km += unevenCostKm(costs.steps[j] as readonly UnevenStep[], households - (costs.evenHouseholds[j] as number));
	return km;
}
