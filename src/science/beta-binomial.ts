import gammaln from "@stdlib/math-base-special-gammaln";
import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

const lnBeta = (a: number, b: number): number => gammaln(a) + gammaln(b) - gammaln(a + b);
const lnChoose = (n: number, k: number): number => gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1);

/** Under this correlation the members count as independent: the beta functions would lose their digits. */
const INDEPENDENT_BELOW = 1e-9;

/**
 * Chance of each count of successes among members that resemble each other.
 *
 * @param group `share` of success, 0 to 1; `size` 1 to 10 000 members; `intraclassCorrelation` 0 to 1: 0 makes them independent, 1 all alike
 * @returns chances of 0 to `size` successes; mean m·p, variance m·p·(1 - p)·(1 + (m - 1)·rho)
 * @throws RangeError outside these ranges
 * Source: beta-binomial distribution with a = p·(1 - rho)/rho and b = (1 - p)·(1 - rho)/rho; binomial under a correlation of 1e-9.
 */
export function groupCountChances(group: {
	readonly share: number;
	readonly size: number;
	readonly intraclassCorrelation: number;
}): number[] {
	const share = valueWithin("share", group.share, 0, 1);
	const size = wholeWithin("members of the group", group.size, 1, 10_000);
	const rho = valueWithin("intraclass correlation", group.intraclassCorrelation, 0, 1);
	const counts = Array.from({ length: size + 1 }, (_, k) => k);
	if (share === 0 || share === 1) return counts.map((k) => (k === share * size ? 1 : 0));
	if (rho === 1) return counts.map((k) => (k === 0 ? 1 - share : k === size ? share : 0));
	if (rho < INDEPENDENT_BELOW) {
		return counts.map((k) => Math.exp(lnChoose(size, k) + k * Math.log(share) + (size - k) * Math.log1p(-share)));
	}
	const a = (share * (1 - rho)) / rho;
	const b = ((1 - share) * (1 - rho)) / rho;
	const base = lnBeta(a, b);
	return counts.map((k) => Math.exp(lnChoose(size, k) + lnBeta(k + a, size - k + b) - base));
}
