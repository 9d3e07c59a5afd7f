import cdf from "@stdlib/stats-base-dists-normal-cdf";
import quantile from "@stdlib/stats-base-dists-normal-quantile";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { abs, exp, floor, sqrt } = Math;

const libraryCdf = cdf.factory(0, 1);
const libraryQuantile = quantile.factory(0, 1);

/** Chance that a standard normal value is below z; any z, ±Infinity allowed. Accurate in both tails, about 80 ns. */
export const normalCdf = (z: number): number => libraryCdf(z);

/** The z below which a standard normal value falls with the given chance, 0 to 1 (0 and 1 give ∓Infinity). */
export const normalQuantile = (chance: number): number => libraryQuantile(chance);

/** How finely the tail is tabulated: nodes per unit of z. */
const NODES_PER_UNIT = 256;
/** From here on an asymptotic series is as good: what is left is below 2e-33. */
const TABLE_END = 12;

const table = new Float64Array(2 * (TABLE_END * NODES_PER_UNIT + 2));
for (let node = 0; node < table.length / 2; node++) {
	const z = node / NODES_PER_UNIT;
	table[2 * node] = libraryCdf(-z);
	table[2 * node + 1] = -exp(-0.5 * z * z) / sqrt(2 * Math.PI) / NODES_PER_UNIT;
}

/**
 * Chance that a standard normal value is above z: the library's tail from a table with cubic Hermite steps of 1/256, some
 * twenty times as fast, for the inner loop of a belief.
 *
 * @param z any number, ±Infinity allowed
 * @returns 0 to 1; within 1e-12 of the library, and within 3e-7 of its own size until it is too small for a number (z = 38)
 */
export function upperTail(z: number): number {
	const size = abs(z);
	if (!(size < TABLE_END)) return farTail(z);
	const scaled = size * NODES_PER_UNIT;
	const node = floor(scaled);
	const t = scaled - node;
	const k = 2 * node;
	const from = table[k]!;
	const fromSlope = table[k + 1]!;
	const untilSlope = table[k + 3]!;
	const rise = table[k + 2]! - from;
	// The Hermite cubic by powers of t.
	const tail = from + t * (fromSlope + t * (3 * rise - 2 * fromSlope - untilSlope + t * (fromSlope + untilSlope - 2 * rise)));
	return z < 0 ? 1 - tail : tail;
}

/** The tail beyond the table. Source: Abramowitz & Stegun 1964, eq. 26.2.12, four terms. */
function farTail(z: number): number {
	if (z < 0) return 1;
	const inverse = 1 / (z * z);
	const series = 1 - inverse * (1 - inverse * (3 - 15 * inverse));
	return (exp(-0.5 * z * z) / (z * sqrt(2 * Math.PI))) * series;
}
