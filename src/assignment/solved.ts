import highsLoader, { type Highs } from "highs";
import { type Costs, costOf, costsOf, grouped } from "./costs.js";
import { boundKm, noPrices, type Prices } from "./prices.js";
import type { AssignmentProblem, AssignmentSolution } from "./problem.js";
import { type Remaining, relaxed } from "./relaxation.js";
import { nearestFirst } from "./room.js";
import { wholeOf } from "./whole.js";

/** The package describes its CommonJS form alone; as an ES module its default is the loader itself. */
const loadHighs = highsLoader as unknown as typeof highsLoader.default;

/** From so many households on, neighbours are first looked at as one: that finds prices from which the whole is solved quickly. */
const GROUPED_FROM = 600;
const MOST_IN_GROUP = 12;
/** So much of the time is kept for making whole what the relaxation shares. */
const KEPT_SHARE = 0.3;

/**
 * The assignment that costs least, in walking, changes, languages and uneven loads together; leaving a household over costs more than
 * all that. The same problem has the same answer.
 *
 * @param remainingMs how long it may still go on; when it is over, the best so far is told with a remark
 * @param soFar told of a first, plain assignment before the optimiser begins, in case that it is stopped
 * @throws whatever the solver throws where its memory isn't enough
 */
export async function solvedAssignment(
	problem: AssignmentProblem,
	remainingMs: Remaining,
	soFar: (solution: AssignmentSolution) => void = () => undefined,
): Promise<AssignmentSolution> {
	const costs = costsOf(problem);
	const plain = nearestFirst(costs, noPrices(costs.candidates));
	const first = plainSolution(costs, plain, "the optimiser was stopped");
	soFar(first);
	if (costs.items === 0 || costs.candidates === 0) return { ...first, by: "optimiser", remark: null };
	const wholeTimeMs = remainingMs();
	const relaxationMs = () => remainingMs() - KEPT_SHARE * wholeTimeMs;
	const highs = await loadHighs();
	const prices = nearPrices(highs, costs, problem, relaxationMs);
	const chosen = nearestFirst(costs, prices);
	const found = relaxed(highs, costs, { chosen, prices, candidatesEach: 4 }, relaxationMs);
	const whole = found.isBest ? wholeOf(highs, costs, found, remainingMs) : { chosen, isBest: false };
	const best = costOf(costs, whole.chosen) <= costOf(costs, plain) ? whole.chosen : plain;
	const costKm = costOf(costs, best);
	const isProven = whole.isBest || costKm - found.boundKm <= 1e-6 * Math.max(1, costKm);
	return {
		chosen: [...best],
		costKm,
		boundKm: whole.isBest ? costKm : found.boundKm,
		leftOverKm: costs.leftOverKm,
		by: best === plain && !found.isBest ? "nearest first" : "optimiser",
		remark: isProven ? null : found.isBest ? "not proven to be the best there is" : "the time was over before the best was found",
		savedByRoomKm: [...found.prices.households],
	};
}

/** @returns what a plain assignment is worth: each household in turn to the nearest who has room */
export function plainSolution(costs: Costs, chosen: Int32Array, remark: string): AssignmentSolution {
	const prices = noPrices(costs.candidates);
	return {
		chosen: [...chosen],
		costKm: costOf(costs, chosen),
		boundKm: boundKm(costs, prices),
		leftOverKm: costs.leftOverKm,
		by: "nearest first",
		remark,
		savedByRoomKm: [...prices.households],
	};
}

/** @returns prices that are nearly right, from the same problem with neighbouring households as one */
function nearPrices(highs: Highs, costs: Costs, problem: AssignmentProblem, remainingMs: Remaining): Prices {
	const none = noPrices(costs.candidates);
	if (costs.items < GROUPED_FROM) return none;
	const coarse = grouped(costs, neighbourhoods(problem));
	return relaxed(highs, coarse, { chosen: nearestFirst(coarse, none), prices: none, candidatesEach: 6 }, remainingMs).prices;
}

/** @returns households in groups of neighbours, halved by their places again and again; one that stays with somebody stands alone */
function neighbourhoods({ households }: AssignmentProblem): number[][] {
	const staying = [...households.keys()].filter((i) => households[i]?.staysWithId !== null);
	const others = [...households.keys()].filter((i) => households[i]?.staysWithId === null);
	const halved = (group: number[], byLatitude: boolean): number[][] => {
		if (group.length <= MOST_IN_GROUP) return group.length > 0 ? [group] : [];
		const place = (i: number) => (byLatitude ? households[i]?.latitudeDeg : households[i]?.longitudeDeg) as number;
		const sorted = group.toSorted((a, b) => place(a) - place(b) || a - b);
		const half = sorted.length >> 1;
		return [...halved(sorted.slice(0, half), !byLatitude), ...halved(sorted.slice(half), !byLatitude)];
	};
	return [...halved(others, true), ...staying.map((i) => [i])];
}
