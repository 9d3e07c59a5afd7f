import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { clusteredCountChances } from "../../src/science/clustered-count.js";
import { decisionRuleFor, lotClass, lotRisks } from "../../src/science/lqas.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

const { lqas19, lqasOther, lqasFinite, lqasClustered } = published;
const lowerOf = (targetPercent: number) => Math.max(0, targetPercent - 30) / 100;

describe("lot quality for a sample of 19", () => {
	// Source: Valadez et al. 2003, appendix 3 (rules from memory; risks computed independently).
	it.each(lqas19.checks)("at a target of $target % has the rule $decisionRule with alpha $alpha and beta $beta", (check) => {
		const plan = { sampleSize: lqas19.sampleSize, targetShare: check.target / 100, lowerShare: lowerOf(check.target) };
		const rule = decisionRuleFor(plan);
		expect(rule.decisionRule).toBe(check.decisionRule);
		expect(rule.source).toBe("guideTable");
		expectNear(rule.alpha, check.alpha, lqas19.tolerance);
		expectNear(rule.beta, check.beta, lqas19.tolerance);
	});
	const rulesWithin = (target: number) =>
		Array.from({ length: 21 }, (_, decisionRule) => decisionRule).filter((decisionRule) => {
			const plan = { sampleSize: 19, decisionRule, targetShare: target / 100, lowerShare: lowerOf(target) };
			const { alpha, beta } = lotRisks(plan);
			return alpha <= lqas19.maximumRisk && beta <= lqas19.maximumRisk;
		});
	it("has from 40 to 90 % no other rule with both risks to 0.10", () => {
		for (const { target, decisionRule } of lqas19.checks) {
			if (target < lqas19.onlyRuleFrom || target > lqas19.onlyRuleTo) continue;
			expect(rulesWithin(target)).toEqual([decisionRule]);
		}
	});
	it.each(lqas19.severalRules)("has at $target % the rules $rules, so the table decides", ({ target, rules }) => {
		expect(rulesWithin(target)).toEqual(rules);
	});
});

describe("lot quality for other samples", () => {
	it.each(lqasOther.checks)("of $sampleSize has the rule $decisionRule at a target of 80 %", ({ sampleSize, decisionRule }) => {
		const rule = decisionRuleFor({ sampleSize, targetShare: 0.8, lowerShare: 0.5 });
		expect(rule.decisionRule).toBe(decisionRule);
		expect(rule.source).toBe("computed");
		expect(rule.alpha).toBeLessThanOrEqual(0.1);
	});
	it.each(lqasFinite.checks)("from a lot of $lotSize has alpha $alpha and beta $beta", ({ lotSize, alpha, beta }) => {
		const { sampleSize, decisionRule, tolerance } = lqasFinite;
		const risks = lotRisks({
			sampleSize,
			decisionRule,
			targetShare: 0.8,
			lowerShare: 0.5,
			design: { kind: "finite", lotSize },
		});
		expectNear(risks.alpha, alpha, tolerance);
		expectNear(risks.beta, beta, tolerance);
	});
	// Source: computed independently with scipy.stats.betabinom.
	it.each(lqasClustered.checks)(
		"in $clusters clusters of $perCluster with correlation $intraclassCorrelation has alpha $alpha",
		({ clusters, perCluster, intraclassCorrelation, alpha, beta, ...plan }) => {
			const design = { kind: "clustered", count: clusters, perCluster, intraclassCorrelation } as const;
			const risks = lotRisks({ ...plan, sampleSize: clusters * perCluster, design });
			expectNear(risks.alpha, alpha, lqasClustered.tolerance);
			expectNear(risks.beta, beta, lqasClustered.tolerance);
		},
	);
	it("in clusters without correlation has the risks of a simple sample", () => {
		const plan = { sampleSize: 60, decisionRule: 45, targetShare: 0.8, lowerShare: 0.5 };
		const design = { kind: "clustered", count: 6, perCluster: 10, intraclassCorrelation: 0 } as const;
		expectNear(lotRisks({ ...plan, design }).alpha, lotRisks(plan).alpha, 1e-10);
		expectNear(lotRisks({ ...plan, design }).beta, lotRisks(plan).beta, 1e-10);
	});
	it("in fully alike clusters has the risks of a sample of clusters", () => {
		const design = { kind: "clustered", count: 6, perCluster: 10, intraclassCorrelation: 1 } as const;
		const alike = lotRisks({ sampleSize: 60, decisionRule: 41, targetShare: 0.8, lowerShare: 0.5, design });
		const clusters = lotRisks({ sampleSize: 6, decisionRule: 5, targetShare: 0.8, lowerShare: 0.5 });
		expectNear(alike.alpha, clusters.alpha, 1e-12);
		expectNear(alike.beta, clusters.beta, 1e-12);
	});
	it("spreads a clustered count by exactly the design effect 1 + (m - 1)·rho", () => {
		fc.assert(
			fc.property(
				fc.double({ min: 0.02, max: 0.98, noNaN: true }),
				fc.double({ min: 0.001, max: 0.95, noNaN: true }),
				fc.integer({ min: 1, max: 12 }),
				fc.integer({ min: 1, max: 15 }),
				(share, intraclassCorrelation, count, perCluster) => {
					const chances = clusteredCountChances(share, { count, perCluster, intraclassCorrelation });
					const n = count * perCluster;
					const total = chances.reduce((sum, chance) => sum + chance, 0);
					const mean = chances.reduce((sum, chance, k) => sum + chance * k, 0);
					const variance = chances.reduce((sum, chance, k) => sum + chance * (k - mean) ** 2, 0);
					expect(total).toBeCloseTo(1, 8);
					expect(mean / n).toBeCloseTo(share, 7);
					const foreseen = n * share * (1 - share) * (1 + (perCluster - 1) * intraclassCorrelation);
					expect(Math.abs(variance / foreseen - 1)).toBeLessThan(1e-6);
				},
			),
		);
	});
	it("classes a lot from the rule up", () => {
		const plan = { sampleSize: 19, decisionRule: 13 };
		expect([12, 13].map((correct) => lotClass({ ...plan, correct }))).toEqual(["belowTarget", "reachesTarget"]);
	});
	it("is refused with a lower share above the target, a lot under the sample, and clusters that don't add up", () => {
		const plan = { sampleSize: 19, decisionRule: 13, targetShare: 0.8, lowerShare: 0.5 };
		expect(() => lotRisks({ ...plan, lowerShare: 0.9 })).toThrow("lower share must be 0 to 0.8, got 0.9");
		expect(() => lotRisks({ ...plan, design: { kind: "finite", lotSize: 10 } })).toThrow("lot must be 19 to 1000000, got 10");
		const design = { kind: "clustered", count: 3, perCluster: 5, intraclassCorrelation: 0.1 } as const;
		expect(() => lotRisks({ ...plan, design })).toThrow("clusters must add up to the sample of 19, got 15");
	});
});
