/** The ends of a band as they are written. Exactly one low end; no high end: the band is open. */
export interface Ends {
	readonly fromMgPerL?: number | undefined;
	readonly overMgPerL?: number | undefined;
	readonly belowMgPerL?: number | undefined;
	readonly upToMgPerL?: number | undefined;
}

/** A place between readings: just before a value, or just after it. */
export interface Edge {
	readonly mgPerL: number;
	readonly after: boolean;
}

/** A stretch of readings and what it is held by. */
export interface Stretch<B> {
	readonly start: Edge;
	readonly end: Edge;
	readonly holders: readonly B[];
}

export const NOTHING: Edge = { mgPerL: 0, after: false };
const OPEN: Edge = { mgPerL: Number.POSITIVE_INFINITY, after: false };

export function startOf(band: Ends): Edge {
	return band.overMgPerL === undefined
		? { mgPerL: band.fromMgPerL ?? 0, after: false }
		: { mgPerL: band.overMgPerL, after: true };
}

export function endOf(band: Ends): Edge {
	if (band.upToMgPerL !== undefined) return { mgPerL: band.upToMgPerL, after: true };
	return band.belowMgPerL === undefined ? OPEN : { mgPerL: band.belowMgPerL, after: false };
}

/** @returns the ends of a band as they are written */
export function endsBetween(start: Edge, end: Edge): Ends {
	const low = start.after ? { overMgPerL: start.mgPerL } : { fromMgPerL: start.mgPerL };
	if (end.mgPerL === Number.POSITIVE_INFINITY) return low;
	return { ...low, ...(end.after ? { upToMgPerL: end.mgPerL } : { belowMgPerL: end.mgPerL }) };
}

const order = (a: Edge, b: Edge): number => (a.mgPerL === b.mgPerL ? Number(a.after) - Number(b.after) : a.mgPerL - b.mgPerL);

export const edgeBefore = (a: Edge, b: Edge): boolean => order(a, b) < 0;

/** @returns the bands that a reading falls in: exactly one in a protocol without gaps and overlaps */
export function bandsHolding<B extends Ends>(bands: readonly B[], freeChlorineMgPerL: number): B[] {
	const reading = { mgPerL: freeChlorineMgPerL, after: false };
	return bands.filter((band) => order(startOf(band), reading) <= 0 && order(reading, endOf(band)) < 0);
}

/**
 * All readings from 0 up, cut wherever a band begins or ends.
 * @param bands in any order; low ends of 0 mg/L or more
 * @returns stretches in rising order that follow on one another from 0 to any height; neighbours are held by different bands. One
 *   without a holder is a gap, one with several an overlap
 */
export function stretchesOf<B extends Ends>(bands: readonly B[]): Stretch<B>[] {
	const edges = [NOTHING, ...bands.flatMap((band) => [startOf(band), endOf(band)]), OPEN]
		.sort(order)
		.filter((edge, i, all) => i === 0 || order(all[i - 1]!, edge) !== 0);
	const stretches: Stretch<B>[] = [];
	for (const [i, start] of edges.entries()) {
		const end = edges[i + 1];
		if (!end) break;
		const holders = bands.filter((band) => order(startOf(band), start) <= 0 && order(end, endOf(band)) <= 0);
		const last = stretches.at(-1);
		if (last && last.holders.length === holders.length && last.holders.every((held, n) => held === holders[n]))
			stretches[stretches.length - 1] = { ...last, end };
		else stretches.push({ start, end, holders });
	}
	return stretches;
}

/** @returns a figure as it is said: at most three decimals, no trailing zeros */
export const figure = (value: number): string => String(Number(value.toFixed(3)));

/** @returns "1-2", or "5 and more" */
export function gapName({ start, end }: Pick<Stretch<unknown>, "start" | "end">): string {
	return end.mgPerL === Number.POSITIVE_INFINITY
		? `${figure(start.mgPerL)} and more`
		: `${figure(start.mgPerL)}-${figure(end.mgPerL)}`;
}

/** @returns "from 1 to under 2 mg/L" */
export function readingsBetween({ start, end }: Pick<Stretch<unknown>, "start" | "end">): string {
	if (start.mgPerL === end.mgPerL) return `of ${figure(start.mgPerL)} mg/L itself`;
	const low = `${start.after ? "over" : "from"} ${figure(start.mgPerL)}`;
	if (end.mgPerL === Number.POSITIVE_INFINITY) return `${low} mg/L${start.after ? "" : " up"}`;
	return `${low} ${end.after ? "up to" : start.after ? "and under" : "to under"} ${figure(end.mgPerL)} mg/L`;
}
