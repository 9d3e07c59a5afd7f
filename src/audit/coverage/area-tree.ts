import { InputError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";

export interface TreeArea {
	readonly id: string;
	readonly parentId: string | null;
	readonly code: string;
	readonly name: string;
	readonly timeZone: string;
}

/** An area in a tree whose top is the one that was asked for. */
export interface AreaInTree extends TreeArea {
	/** 0 for the top. */
	readonly depth: number;
}

/** The areas there are, as a tree. */
export class AreaTree {
	private readonly below = new Map<string, TreeArea[]>();

	private constructor(private readonly all: readonly TreeArea[]) {
		for (const area of all) {
			if (area.parentId === null) continue;
			const beside = this.below.get(area.parentId) ?? [];
			beside.push(area);
			this.below.set(area.parentId, beside);
		}
	}

	static async of(store: Pick<Store, "query">): Promise<AreaTree> {
		const areas = await store.query<TreeArea>("SELECT id, parent_id, code, name, time_zone FROM area");
		// Databases sort texts each in its own way: sorted here, a report is the same from each of them.
		return new AreaTree(areas.sort((a, b) => (a.code < b.code ? -1 : 1)));
	}

	/** @throws InputError `unknown-area` */
	named(code: string, at = "area"): TreeArea {
		const area = this.all.find((one) => one.code === code);
		if (area) return area;
		throw new InputError("unknown-area", `There is no area with the code ${code}.`, {
			problems: [{ at, message: "names no area" }],
		});
	}

	/** @returns the area and all below it, each before those below it, sisters by code */
	from(top: TreeArea): AreaInTree[] {
		const found: AreaInTree[] = [];
		const waiting: AreaInTree[] = [{ ...top, depth: 0 }];
		const seen = new Set<string>();
		for (let area = waiting.pop(); area; area = waiting.pop()) {
			if (seen.has(area.id)) continue;
			seen.add(area.id);
			found.push(area);
			const depth = area.depth + 1;
			waiting.push(...(this.below.get(area.id) ?? []).map((child) => ({ ...child, depth })).reverse());
		}
		return found;
	}

	/** @returns whether these are all the areas there are */
	isWhole(areas: readonly AreaInTree[]): boolean {
		return areas.length === this.all.length;
	}
}

/**
 * Adds what stands in each area to all above it.
 * @param areas as `AreaTree.from` gives them
 * @param add adds the second to the first
 */
export function rolledUp<T>(
	areas: readonly AreaInTree[],
	own: (areaId: string) => T,
	add: (above: T, below: T) => T,
): ReadonlyMap<string, T> {
	const sums = new Map(areas.map(({ id }) => [id, own(id)]));
	// From the last to the first, what is below an area has been added up when its turn comes.
	for (const { id, parentId, depth } of areas.toReversed()) {
		if (depth === 0 || parentId === null) continue;
		sums.set(parentId, add(sums.get(parentId) as T, sums.get(id) as T));
	}
	return sums;
}
