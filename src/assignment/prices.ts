import type { Costs } from "./costs.js";

/** What one more of each kind of room would save at each candidate: 0 or more, km a household, a litre a day, an hour a week. */
export interface Prices {
	readonly households: Float64Array;
	readonly litresPerDay: Float64Array;
	readonly hoursPerWeek: Float64Array;
}

export function noPrices(candidates: number): Prices {
	return {
		households: new Float64Array(candidates),
		litresPerDay: new Float64Array(candidates),
		hoursPerWeek: new Float64Array(candidates),
	};
}

/** @returns what an item costs at a candidate, the room that it takes included; km */
export function pricedKm(costs: Costs, prices: Prices, item: number, candidate: number): number {
	const at = item * costs.candidates + candidate;
	return (
		(costs.costKm[at] as number) +
		(costs.weight[item] as number) * (prices.households[candidate] as number) +
		(costs.litresPerDay[item] as number) * (prices.litresPerDay[candidate] as number) +
		(costs.hoursPerWeek[at] as number) * (prices.hoursPerWeek[candidate] as number)
	);
}

/** @returns the candidates that cost an item least by these prices, the best first; those that may not have it aren't among them */
export function bestFor(costs: Costs, prices: Prices, item: number, count: number): { candidate: number; km: number }[] {
	const best: { candidate: number; km: number }[] = [];
	for (let candidate = 0; candidate < costs.candidates; candidate++) {
		const km = pricedKm(costs, prices, item, candidate);
		if (km === Number.POSITIVE_INFINITY || (best.length === count && km >= (best.at(-1)?.km ?? 0))) continue;
		let at = best.length;
		while (at > 0 && (best[at - 1] as { km: number }).km > km) at--;
		best.splice(at, 0, { candidate, km });
		if (best.length > count) best.pop();
	}
	return best;
}

/**
 * A cost that no assignment is under, whole or shared, whatever the prices: the nearer to an optimum the prices are, the tighter it is.
 * Source: weak duality of linear programming, Geoffrion (1974), Mathematical Programming Study 2, 82-114 (Lagrangean relaxation; from memory).
 */
export function boundKm(costs: Costs, prices: Prices): number {
	let bound = 0;
	for (let item = 0; item < costs.items; item++) {
		const leftOver = costs.leftOverKm * (costs.weight[item] as number);
		bound += Math.min(leftOver, bestFor(costs, prices, item, 1)[0]?.km ?? leftOver);
	}
	for (let j = 0; j < costs.candidates; j++) {
		const [price, even] = [prices.households[j] as number, costs.evenHouseholds[j] as number];
		bound -= price * even;
		for (const step of costs.steps[j] ?? []) bound += Math.min(0, step.km - price) * step.households;
		for (const kind of ["litresPerDay", "hoursPerWeek"] as const)
			if ((prices[kind][j] as number) > 0) bound -= (prices[kind][j] as number) * (costs.most[kind][j] as number);
	}
	return bound;
}
