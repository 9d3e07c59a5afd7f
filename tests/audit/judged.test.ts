import { judged, type VisitFacts } from "../../src/audit/sample/judged.js";
import { samplePlan } from "../../src/audit/sample/plan.js";
import { expectNear } from "../science/near.js";

const plan = samplePlan(
	{ kind: "classify", targetShare: 0.8, lowerShare: 0.5, maximumAlpha: 0.1, maximumBeta: 0.1 },
	{ kind: "simple" },
	100_000,
);
const limits = { leastMgPerL: 0.2, mostMgPerL: 5 };
const seen = (
	freeChlorineMgPerL: number | null,
	reportedMgPerL: number | null = null,
	cluster: number | null = null,
): VisitFacts => ({
	...{ cluster, outcome: "seen", freeChlorineMgPerL, treated: true, containerSeen: true, reportedMgPerL },
});
const absent: VisitFacts = {
	cluster: null,
	outcome: "absent",
	freeChlorineMgPerL: null,
	treated: null,
	containerSeen: null,
	reportedMgPerL: 0.5,
};
const many = (count: number, visit: VisitFacts) => Array.from({ length: count }, () => visit);

describe("what a sample says", () => {
	it.each([
		[13, 6, 0, "reaches target"],
		[12, 7, 0, "below target"],
		[12, 6, 1, "open"],
		[13, 3, 3, "reaches target"],
		[5, 7, 7, "below target"],
	] as const)("with %i of 19 positive, %i not and %i not read is: %s", (passed, failed, missing, expected) => {
		const { verdict } = judged(plan, [...many(passed, seen(0.5)), ...many(failed, seen(0)), ...many(missing, absent)], limits);
		expect(verdict).toMatchObject({ class: expected, decisionRule: 13, sampleSize: 19, passed, missing });
	});

	it("counts what was read, seen and told, and what wasn't as missing", () => {
		const { visits, estimates } = judged(plan, [...many(15, seen(0.5)), seen(6), seen(0.1), seen(null), absent], limits);
		expect(visits).toEqual({ seen: 18, refused: 0, absent: 1, open: 0 });
		const counted = estimates.map(({ what, numerator, denominator, missing }) => [what, numerator, denominator, missing]);
		expect(counted).toEqual([
			["positive residual", 16, 17, 2],
			["residual in the accepted range", 15, 17, 2],
			["treated", 18, 18, 1],
			["container seen", 18, 18, 1],
		]);
	});

	it("compares with volunteers' reports by kappa: 20, 5, 10, 15 agree in 0.70 and have 0.40", () => {
		// Source: worked example in textbooks (from memory, reproduced): po 0.70, pe 0.50, kappa 0.40.
		const visits = [
			...many(20, seen(1, 1)),
			...many(5, seen(0, 1)),
			...many(10, seen(1, 0)),
			...many(15, seen(0, 0)),
			seen(1),
			absent,
		];
		const { agreement } = judged({ ...plan, lot: null }, visits, limits);
		expect(agreement).toMatchObject({
			pairs: 50,
			table: [
				[20, 5],
				[10, 15],
			],
		});
		expectNear(agreement?.observed ?? 0, 0.7, 1e-12);
		expectNear(agreement?.kappa ?? 0, 0.4, 1e-12);
		expect(judged(plan, [absent], limits).agreement).toBeNull();
	});

	it("of clusters has their interval, and none from a single cluster", () => {
		const counts = [5, 6, 4, 7, 5, 6];
		const visits = counts.flatMap((yes, i) => [...many(yes, seen(1, null, i + 1)), ...many(10 - yes, seen(0, null, i + 1))]);
		const [positive] = judged({ ...plan, lot: null }, visits, limits).estimates;
		const mean = 33 / 60;
		const se = Math.sqrt(counts.reduce((sum, yes) => sum + (yes / 10 - mean) ** 2, 0) / 5 / 6);
		expect(positive?.interval).toBe("clusters, t");
		expectNear(positive?.low ?? 0, mean - 2.571 * se, 1e-4);
		const [alone] = judged(
			{ ...plan, lot: null },
			visits.filter(({ cluster }) => cluster === 1),
			limits,
		).estimates;
		expect(alone).toMatchObject({ interval: "none", low: null, high: null, share: 0.5 });
	});
});
