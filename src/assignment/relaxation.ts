import type { Highs, Model, Solution } from "highs";
import type { Costs } from "./costs.js";
import { bestFor, boundKm, type Prices, pricedKm } from "./prices.js";
import { type Entry, type SparseColumn, SparseProgram } from "./sparse-program.js";

/** How long something may still go on. */
export type Remaining = () => number;

/** An assignment in which households may be shared between volunteers: what it costs can't be beaten by one that shares none. */
export interface Relaxed {
	readonly boundKm: number;
	readonly prices: Prices;
	/** Which share of an item each candidate has; only what isn't 0. */
	readonly shares: readonly (readonly { readonly candidate: number; readonly share: number }[])[];
	/** False: the time was over before the best was found; the bound holds all the same. */
	readonly isBest: boolean;
}

/** Where the solver begins: a whole assignment, and prices near the right ones. */
export interface Beginning {
	readonly chosen: Int32Array;
	readonly prices: Prices;
	/** So many of the best candidates of each item are looked at first. */
	readonly candidatesEach: number;
}

/** Rows of the resources that some candidate has a limit of. */
export interface ResourceRows {
	readonly households: Int32Array;
	readonly litresPerDay: Int32Array;
	readonly hoursPerWeek: Int32Array;
}

/**
 * Solves the relaxation by column generation: only promising pairs are given to the solver, and by its prices every pair is then looked
 * at; when none would help, the best of all has been found though most pairs were never in the program.
 * Source: Dantzig and Wolfe (1960), Operations Research 8(1), 101-111 (from memory); Huangfu and Hall (2018), Mathematical Programming
 * Computation 10, 119-142 (HiGHS).
 */
export function relaxed(highs: Highs, costs: Costs, beginning: Beginning, remainingMs: Remaining): Relaxed {
	const program = new SparseProgram();
	const rows = addRows(program, costs);
	const pairs = new Pairs(costs, rows);
	for (let item = 0; item < costs.items; item++)
		program.addColumn({
			cost: costs.leftOverKm * (costs.weight[item] as number),
			most: Number.POSITIVE_INFINITY,
			entries: [[item, 1]],
		});
	const over = addUneven(program, costs, rows);
	const first = program.size.columns;
	for (let item = 0; item < costs.items; item++) {
		const chosen = beginning.chosen[item] as number;
		if (chosen >= 0) pairs.add(item, chosen);
		for (const { candidate } of bestFor(costs, beginning.prices, item, beginning.candidatesEach)) pairs.add(item, candidate);
	}
	for (const column of pairs.taken()) program.addColumn(column);
	const model = program.model(highs);
	try {
		begin(highs, model, { costs, beginning, rows, over, pairs, first, size: program.size });
		return generated({ highs, costs, program, pairs, rows, first, remainingMs, model });
	} finally {
		model.dispose();
	}
}

interface Generating {
	readonly highs: Highs;
	readonly costs: Costs;
	readonly program: SparseProgram;
	readonly pairs: Pairs;
	readonly rows: ResourceRows;
	readonly first: number;
	readonly remainingMs: Remaining;
	readonly model: Model;
}

function generated(now: Generating): Relaxed {
	const { highs, costs, program, pairs, rows, first, remainingMs, model } = now;
	let best: { prices: Prices; boundKm: number } | undefined;
	for (;;) {
		model.zeroAllClocks();
		model.options.set({ time_limit: Math.max(0.01, remainingMs() / 1000) });
		model.run();
		const isSolved = model.getModelStatus() === highs.constants.modelStatus.optimal;
		const solution = model.getSolution();
		const prices = pricesIn(solution, rows, costs);
		const bound = boundKm(costs, prices);
		if (!best || bound > best.boundKm) best = { prices, boundKm: bound };
		const promising = isSolved ? pairs.addPromising(prices, solution.rowDual) : 0;
		const km = model.getObjectiveValue();
		if (!isSolved || promising === 0 || km - best.boundKm <= 1e-9 * Math.max(1, km)) {
			const shares = sharesIn(solution, pairs, first, costs.items);
			return { ...best, shares, isBest: isSolved };
		}
		program.extend(highs, model, pairs.taken());
	}
}

/** A row for each item, then the limits; the even share stands as the row's limit, what is above it is bought. */
export function addRows(program: SparseProgram, costs: Costs, most = costs.most, even = costs.evenHouseholds): ResourceRows {
	const m = costs.candidates;
	for (let item = 0; item < costs.items; item++) program.addRow(1, 1);
	const unlimited = Number.POSITIVE_INFINITY;
	const limit = (of: Float64Array) =>
		Int32Array.from(of, (value) => (value === unlimited ? -1 : program.addRow(-unlimited, value)));
	const households = Int32Array.from({ length: m }, (_, j) => program.addRow(-unlimited, even[j] as number));
	return { households, litresPerDay: limit(most.litresPerDay), hoursPerWeek: limit(most.hoursPerWeek) };
}

/** @returns by candidate, the columns by which a load above the even share is bought, the cheapest first */
export function addUneven(program: SparseProgram, costs: Costs, rows: ResourceRows): number[][] {
	return costs.steps.map((steps, j) =>
		steps.map(({ households, km }) =>
			program.addColumn({ cost: km, most: households, entries: [[rows.households[j] as number, -1]] }),
		),
	);
}

/** What an item takes of a candidate's rows. @param itemRow of the program that it stands in */
export function entriesOf(costs: Costs, rows: ResourceRows, item: number, candidate: number, itemRow = item): Entry[] {
	const entries: Entry[] = [
		[itemRow, 1],
		[rows.households[candidate] as number, costs.weight[item] as number],
	];
	const litresRow = rows.litresPerDay[candidate] as number;
	if (litresRow >= 0) entries.push([litresRow, costs.litresPerDay[item] as number]);
	const hoursRow = rows.hoursPerWeek[candidate] as number;
	if (hoursRow >= 0) entries.push([hoursRow, costs.hoursPerWeek[item * costs.candidates + candidate] as number]);
	return entries;
}

/** The pairs of item and candidate that the program knows, in the order of its columns. */
class Pairs {
	readonly all: { readonly item: number; readonly candidate: number }[] = [];
	private readonly known: Uint8Array;
	private handedOver = 0;

	constructor(
		private readonly costs: Costs,
		private readonly rows: ResourceRows,
	) {
		this.known = new Uint8Array(costs.items * costs.candidates);
	}

	add(item: number, candidate: number): boolean {
		const at = item * this.costs.candidates + candidate;
		if (this.known[at]) return false;
		this.known[at] = 1;
		this.all.push({ item, candidate });
		return true;
	}

	/** Adds, for each item, up to three pairs that would make the whole cheaper. @returns how many there were */
	addPromising(prices: Prices, itemDuals: Float64Array): number {
		let added = 0;
		for (let item = 0; item < this.costs.items; item++)
			for (const { candidate } of bestFor(this.costs, prices, item, 3))
				if (pricedKm(this.costs, prices, item, candidate) < (itemDuals[item] as number) - 1e-7 && this.add(item, candidate))
					added++;
		return added;
	}

	/** @returns the columns of the pairs that came since the last time */
	taken(): SparseColumn[] {
		const fresh = this.all.slice(this.handedOver);
		this.handedOver = this.all.length;
		return fresh.map(({ item, candidate }) => ({
			cost: this.costs.costKm[item * this.costs.candidates + candidate] as number,
			most: Number.POSITIVE_INFINITY,
			entries: entriesOf(this.costs, this.rows, item, candidate),
		}));
	}
}

interface Start {
	readonly costs: Costs;
	readonly beginning: Beginning;
	readonly rows: ResourceRows;
	readonly over: readonly (readonly number[])[];
	readonly pairs: Pairs;
	readonly first: number;
	readonly size: { readonly rows: number; readonly columns: number };
}

/** Lets the simplex begin at a whole assignment: one column of each item, and of each candidate the load's distance from the even share. */
function begin(highs: Highs, model: Model, { costs, beginning, rows, over, pairs, first, size }: Start): void {
	const { basic, lower, upper } = highs.constants.basisStatus;
	const colStatus = new Int32Array(size.columns).fill(lower);
	const rowStatus = new Int32Array(size.rows).fill(basic).fill(lower, 0, costs.items);
	const load = new Float64Array(costs.candidates);
	for (const [item, candidate] of beginning.chosen.entries())
		if (candidate >= 0) load[candidate] = (load[candidate] as number) + (costs.weight[item] as number);
		else colStatus[item] = basic;
	for (const [at, { item, candidate }] of pairs.all.entries())
		if (beginning.chosen[item] === candidate) colStatus[first + at] = basic;
	for (const [j, households] of load.entries()) {
		if (households <= (costs.evenHouseholds[j] as number)) continue;
		let above = households - (costs.evenHouseholds[j] as number);
		for (const [step, column] of (over[j] as readonly number[]).entries()) {
			const width = costs.steps[j]?.[step]?.households ?? 0;
			colStatus[column] = above > width ? upper : basic;
			above -= width;
			if (above <= 0) break;
		}
		rowStatus[rows.households[j] as number] = upper;
	}
	model.setBasis({ colStatus, rowStatus });
	model.options.set({ presolve: "off", simplex_strategy: PRIMAL_SIMPLEX });
}

/** From a beginning that keeps every limit, and again when columns come, the primal simplex goes on; the dual one would begin anew. */
const PRIMAL_SIMPLEX = 4;

function pricesIn({ rowDual }: Solution, rows: ResourceRows, costs: Costs): Prices {
	// A limit's dual is 0 or less; what rounding puts above 0 would spoil the bound.
	const of = (indices: Int32Array) =>
		Float64Array.from({ length: costs.candidates }, (_, j) => {
			const row = indices[j] as number;
			return row < 0 ? 0 : Math.max(0, -(rowDual[row] as number));
		});
	return { households: of(rows.households), litresPerDay: of(rows.litresPerDay), hoursPerWeek: of(rows.hoursPerWeek) };
}

function sharesIn({ colValue }: Solution, pairs: Pairs, first: number, items: number): Relaxed["shares"] {
	const shares = Array.from({ length: items }, (): { candidate: number; share: number }[] => []);
	for (const [at, { item, candidate }] of pairs.all.entries()) {
		const share = colValue[first + at] ?? 0;
		if (share > 1e-7) (shares[item] as { candidate: number; share: number }[]).push({ candidate, share });
	}
	return shares;
}
