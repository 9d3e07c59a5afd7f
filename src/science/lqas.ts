import binomialCdf from "@stdlib/stats-base-dists-binomial-cdf";
import hypergeometricCdf from "@stdlib/stats-base-dists-hypergeometric-cdf";
import { type Clusters, clusteredCountChances } from "./clustered-count.js";
import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

/** How the sample was drawn; without it a simple random sample of a large lot. */
export type SampleDesign =
	| { readonly kind: "large" }
	/** Simple random sample without replacement of a lot of so many, 1 to 1e6. */
	| { readonly kind: "finite"; readonly lotSize: number }
	/** Clusters; their members together are the sample. */
	| ({ readonly kind: "clustered" } & Clusters);

/** A plan for classifying a lot. */
export interface LotPlan {
	/** Whole, 1 to 5000. */
	readonly sampleSize: number;
	/** Fewest correct for "reaches target", 0 to sampleSize + 1. */
	readonly decisionRule: number;
	/** Share that should pass, 0 to 1. */
	readonly targetShare: number;
	/** Share that should fail, 0 to the target. */
	readonly lowerShare: number;
	readonly design?: SampleDesign;
}

/** Both risks of a plan. */
export interface LotRisks {
	/** Chance that a lot at the target is classed below it. */
	readonly alpha: number;
	/** Chance that a lot at the lower share is classed as reaching the target. */
	readonly beta: number;
}

function chanceBelow(rule: number, sampleSize: number, share: number, design: SampleDesign): number {
	if (rule <= 0) return 0;
	switch (design.kind) {
		case "large":
			return binomialCdf(rule - 1, sampleSize, share);
		case "finite": {
			const lot = wholeWithin("lot", design.lotSize, sampleSize, 1e6);
			return hypergeometricCdf(rule - 1, lot, Math.round(lot * share), sampleSize);
		}
		case "clustered": {
			const drawn = design.count * design.perCluster;
			if (drawn !== sampleSize) {
				throw new RangeError(`clusters must add up to the sample of ${sampleSize}, got ${drawn}`);
			}
			return clusteredCountChances(share, design)
				.slice(0, rule)
				.reduce((sum, chance) => sum + chance, 0);
		}
	}
}

/**
 * Both risks of a plan for classifying a lot.
 *
 * @param plan sample, decision rule (fewest correct to be classed as reaching the target), both shares, design
 * @returns alpha P(X < d | target) and beta P(X >= d | lower share); in a finite lot the correct ones are the share of the lot,
 *   rounded to whole members
 * @throws RangeError outside the ranges of the fields
 * Source: Valadez et al. 2003, LQAS trainer's guide; binomial, hypergeometric, or beta-binomial clusters.
 */
export function lotRisks(plan: LotPlan): LotRisks {
	const n = wholeWithin("sample", plan.sampleSize, 1, 5000);
	const rule = wholeWithin("decision rule", plan.decisionRule, 0, n + 1);
	const target = valueWithin("target share", plan.targetShare, 0, 1);
	const lower = valueWithin("lower share", plan.lowerShare, 0, target);
	const design = plan.design ?? { kind: "large" };
	return { alpha: chanceBelow(rule, n, target, design), beta: 1 - chanceBelow(rule, n, lower, design) };
}

/** Decision rules of the guide for 19, from 20 to 95 % in steps of 5. Source: Valadez et al. 2003, appendix 3 (cells from memory). */
const guideRules19 = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16] as const;
/** The guide's lower share lies this far under the target. */
const GUIDE_GAP = 0.3;

/** A decision rule with its risks and where it comes from. */
export interface DecisionRule extends LotRisks {
	readonly decisionRule: number;
	readonly source: "guideTable" | "computed";
}

/**
 * Decision rule for a sample.
 *
 * @param plan sample, shares and design as for `lotRisks`; `maximumAlpha` 0.001 to 0.5 (default 0.10)
 * @returns the guide's rule for a simple sample of 19, a target of 20 to 95 % in steps of 5 and a gap of 30 points (several rules
 *   would do at its ends); else the largest rule whose alpha is within the maximum. Look at beta before using it
 * @throws RangeError outside these ranges
 * Source: Valadez et al. 2003.
 */
export function decisionRuleFor(plan: Omit<LotPlan, "decisionRule"> & { readonly maximumAlpha?: number }): DecisionRule {
	const maximum = valueWithin("largest alpha", plan.maximumAlpha ?? 0.1, 0.001, 0.5);
	const guided = guideRule(plan);
	if (guided !== null) return { decisionRule: guided, source: "guideTable", ...lotRisks({ ...plan, decisionRule: guided }) };
	let decisionRule = 0;
	// The first step checks every field; alpha then rises with each rule.
	while (decisionRule <= plan.sampleSize && lotRisks({ ...plan, decisionRule: decisionRule + 1 }).alpha <= maximum)
		decisionRule++;
	return { decisionRule, source: "computed", ...lotRisks({ ...plan, decisionRule }) };
}

function guideRule(plan: Omit<LotPlan, "decisionRule">): number | null {
	const row = (plan.targetShare * 100 - 20) / 5;
	const onGrid = Math.abs(row - Math.round(row)) < 1e-6;
	// The guide's lower share can't go under 0, so below 30 % the gap is whatever is left.
	const gap = Math.abs(plan.lowerShare - Math.max(0, plan.targetShare - GUIDE_GAP)) < 1e-9;
	if (plan.sampleSize !== 19 || (plan.design ?? { kind: "large" }).kind !== "large" || !onGrid || !gap) return null;
	return guideRules19[Math.round(row)] ?? null;
}

/**
 * Class of a lot: it classifies, it neither ranks nor estimates.
 *
 * @param sample `correct` 0 to `sampleSize`, `decisionRule` 0 to `sampleSize` + 1, whole numbers
 * @returns "reachesTarget" from the rule up
 * @throws RangeError outside these ranges
 */
export function lotClass(sample: {
	readonly correct: number;
	readonly sampleSize: number;
	readonly decisionRule: number;
}): "reachesTarget" | "belowTarget" {
	const n = wholeWithin("sample", sample.sampleSize, 1, 5000);
	const rule = wholeWithin("decision rule", sample.decisionRule, 0, n + 1);
	return wholeWithin("correct", sample.correct, 0, n) >= rule ? "reachesTarget" : "belowTarget";
}
