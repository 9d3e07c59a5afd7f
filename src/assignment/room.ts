import type { Costs } from "./costs.js";
import { bestFor, type Prices, pricedKm } from "./prices.js";

/** What each candidate can still take on while households are given out one by one. */
export class Room {
	private readonly households: Float64Array;
	private readonly litresPerDay: Float64Array;
	private readonly hoursPerWeek: Float64Array;

	constructor(private readonly costs: Costs) {
		this.households = costs.most.households.slice();
		this.litresPerDay = costs.most.litresPerDay.slice();
		this.hoursPerWeek = costs.most.hoursPerWeek.slice();
	}

	fits(item: number, candidate: number): boolean {
		const { costs } = this;
		return (
			(costs.weight[item] as number) <= (this.households[candidate] as number) + 1e-9 &&
			(costs.litresPerDay[item] as number) <= (this.litresPerDay[candidate] as number) + 1e-9 &&
			(costs.hoursPerWeek[item * costs.candidates + candidate] as number) <= (this.hoursPerWeek[candidate] as number) + 1e-9
		);
	}

	take(item: number, candidate: number): void {
		const { costs } = this;
		this.households[candidate] = (this.households[candidate] as number) - (costs.weight[item] as number);
		this.litresPerDay[candidate] = (this.litresPerDay[candidate] as number) - (costs.litresPerDay[item] as number);
		const hours = costs.hoursPerWeek[item * costs.candidates + candidate] as number;
		this.hoursPerWeek[candidate] = (this.hoursPerWeek[candidate] as number) - hours;
	}

	/** What is left, for whoever gives out the rest. */
	left(): Costs["most"] {
		return { households: this.households, litresPerDay: this.litresPerDay, hoursPerWeek: this.hoursPerWeek };
	}
}

/**
 * Gives items out one by one, those first that lose most by not getting their best candidate; each gets the best that has room.
 * @param chosen what stands already; -1 is given out
 * @returns the whole assignment; -1 where no candidate has room
 */
export function nearestFirst(costs: Costs, prices: Prices, chosen = new Int32Array(costs.items).fill(-1)): Int32Array {
	const room = new Room(costs);
	for (const [i, j] of chosen.entries()) if (j >= 0) room.take(i, j);
	const open = [...chosen.keys()].filter((i) => (chosen[i] as number) < 0);
	const regrets = open.map((item) => {
		const [best, second] = bestFor(costs, prices, item, 2);
		return { item, regret: best ? (second?.km ?? Number.MAX_VALUE) - best.km : -1 };
	});
	const result = chosen.slice();
	for (const { item } of regrets.sort((a, b) => b.regret - a.regret || a.item - b.item)) {
		let best = -1;
		for (let j = 0; j < costs.candidates; j++)
			if (costs.costKm[item * costs.candidates + j] !== Number.POSITIVE_INFINITY && room.fits(item, j))
				if (best < 0 || pricedKm(costs, prices, item, j) < pricedKm(costs, prices, item, best)) best = j;
		if (best >= 0) room.take(item, best);
		result[item] = best;
	}
	return result;
}
