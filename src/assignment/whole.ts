import type { Highs } from "highs";
import type { Costs } from "./costs.js";
import { bestFor } from "./prices.js";
import { addRows, addUneven, entriesOf, type Relaxed, type Remaining } from "./relaxation.js";
import { nearestFirst, Room } from "./room.js";
import { SparseProgram } from "./sparse-program.js";

/** Up to so many pairs every one of them is looked at, so that the best of all is found. */
const LOOKED_AT_WHOLE = 3000;
/** Of larger problems so many households are given out anew beside those that the relaxation shares. */
const GIVEN_ANEW = 200;
/** Candidates that are looked at for each of them. */
const CANDIDATES_EACH = 6;

export interface Whole {
	/** By item the candidate, -1 where it is left over. */
	readonly chosen: Int32Array;
	/** No other is better; false where that isn't known. */
	readonly isBest: boolean;
}

/**
 * Makes a whole assignment of one that shares households: only limits of litres or hours make it share any.
 * Small problems are solved as they are; of large ones what isn't shared stays, and the rest is given out anew.
 */
export function wholeOf(highs: Highs, costs: Costs, { shares, prices }: Relaxed, remainingMs: Remaining): Whole {
	const chosen = Int32Array.from(shares, (of) =>
		of.length === 1 && (of[0]?.share ?? 0) > 1 - 1e-6 ? (of[0]?.candidate ?? -1) : -1,
	);
	const shared = [...chosen.keys()].filter((item) => (chosen[item] as number) < 0 && (shares[item]?.length ?? 0) > 0);
	if (shared.length === 0) return { chosen, isBest: true };
	const isSmall = costs.items * costs.candidates <= LOOKED_AT_WHOLE;
	const anew = isSmall ? [...chosen.keys()] : givenAnew(costs, prices, chosen, shared);
	for (const item of anew) chosen[item] = -1;
	const candidatesEach = isSmall ? costs.candidates : CANDIDATES_EACH;
	const options = anew.map((item) => bestFor(costs, prices, item, candidatesEach).map(({ candidate }) => candidate));
	const found = completed(highs, costs, chosen, anew, options, remainingMs);
	return found
		? { chosen: found.chosen, isBest: isSmall && found.isBest }
		: { chosen: nearestFirst(costs, prices, chosen), isBest: false };
}

/** Those that are shared or left over, and those for which another candidate would be nearly as good. */
function givenAnew(costs: Costs, prices: Relaxed["prices"], chosen: Int32Array, shared: readonly number[]): number[] {
	const torn = [...chosen.keys()]
		.filter((item) => (chosen[item] as number) >= 0)
		.map((item) => {
			const [best, second] = bestFor(costs, prices, item, 2);
			return { item, lead: best && second ? second.km - best.km : Number.MAX_VALUE };
		})
		.sort((a, b) => a.lead - b.lead || a.item - b.item)
		.slice(0, GIVEN_ANEW);
	const leftOver = [...chosen.keys()].filter((item) => (chosen[item] as number) < 0);
	return [...new Set([...shared, ...leftOver, ...torn.map(({ item }) => item)])].sort((a, b) => a - b);
}

function completed(
	highs: Highs,
	costs: Costs,
	chosen: Int32Array,
	anew: readonly number[],
	options: readonly (readonly number[])[],
	remainingMs: Remaining,
): Whole | undefined {
	const room = new Room(costs);
	for (const [item, candidate] of chosen.entries()) if (candidate >= 0) room.take(item, candidate);
	const left = room.left();
	const even = costs.evenHouseholds.map(
		(most, j) => most - ((costs.most.households[j] as number) - (left.households[j] as number)),
	);
	const program = new SparseProgram();
	const rows = addRows(program, { ...costs, items: anew.length }, left, even);
	addUneven(program, costs, rows);
	const columns: { readonly at: number; readonly item: number; readonly candidate: number }[] = [];
	for (const [row, item] of anew.entries()) {
		program.addColumn({ cost: costs.leftOverKm * (costs.weight[item] as number), most: 1, entries: [[row, 1]], isWhole: true });
		for (const candidate of options[row] as readonly number[]) {
			const cost = costs.costKm[item * costs.candidates + candidate] as number;
			const entries = entriesOf(costs, rows, item, candidate, row);
			columns.push({ at: program.addColumn({ cost, most: 1, entries, isWhole: true }), item, candidate });
		}
	}
	const model = program.model(highs);
	try {
		const time_limit = Math.max(0.05, remainingMs() / 1000);
		model.options.set({ time_limit, mip_rel_gap: anew.length === costs.items ? 1e-9 : 1e-3, mip_abs_gap: 1e-7 });
		model.run();
		if (model.info.get("primal_solution_status") !== highs.constants.solutionStatus.feasible) return undefined;
		const { colValue } = model.getSolution();
		const result = chosen.slice();
		for (const { at, item, candidate } of columns) if ((colValue[at] as number) > 0.5) result[item] = candidate;
		return { chosen: result, isBest: model.getModelStatus() === highs.constants.modelStatus.optimal };
	} finally {
		model.dispose();
	}
}
