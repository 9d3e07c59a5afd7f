import { type LotRisks, lotRisks, type SampleDesign } from "./lqas.js";
import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

/** What a classification is wanted to tell apart, and how often it may err. */
export interface LotAims {
	/** Share that should pass, 0.05 to 0.99. */
	readonly targetShare: number;
	/** Share that should fail, 0 to under the target. */
	readonly lowerShare: number;
	/** Largest chance that a lot at the target is classed below it, 0.001 to 0.5. */
	readonly maximumAlpha: number;
	/** Largest chance that a lot at the lower share is classed as reaching the target, 0.001 to 0.5. */
	readonly maximumBeta: number;
}

/** A sample with its rule and risks. */
export interface LotSample extends LotRisks {
	readonly sampleSize: number;
	readonly decisionRule: number;
}

/** How samples of growing size are drawn. */
export type Drawing =
	| { readonly kind: "simple"; readonly lotSize: number }
	| { readonly kind: "clustered"; readonly perCluster: number; readonly intraclassCorrelation: number };

/** No lot is classified by more than this: `lotRisks` takes 5000, clusters 200. */
const MOST_SIMPLE = 1000;
const MOST_CLUSTERS = 200;

/**
 * Smallest sample that tells a target from a lower share with both risks kept.
 *
 * @param aims shares and largest risks
 * @param drawing simple without replacement from a lot of 1 to 1e6; or clusters of 1 to 200 members with their correlation 0 to 1
 * @returns size, rule (the largest within alpha, as `decisionRuleFor` takes it) and both risks; null where no sample of up to 1000, or of
 *   200 clusters, keeps both
 * @throws RangeError outside these ranges, or where the lower share isn't under the target
 * Source: exact search with hypergeometric or beta-binomial chances (Lemeshow & Taber 1991, World Health Stat. Q. 44:115, for the aim).
 */
export function smallestLotSample(aims: LotAims, drawing: Drawing): LotSample | null {
	const target = valueWithin("target share", aims.targetShare, 0.05, 0.99);
	valueWithin("lower share", aims.lowerShare, 0, target - 1e-9);
	valueWithin("largest alpha", aims.maximumAlpha, 0.001, 0.5);
	valueWithin("largest beta", aims.maximumBeta, 0.001, 0.5);
	const step = drawing.kind === "simple" ? 1 : wholeWithin("members drawn from each cluster", drawing.perCluster, 1, 200);
	const most =
		drawing.kind === "simple" ? Math.min(MOST_SIMPLE, wholeWithin("lot", drawing.lotSize, 1, 1e6)) : MOST_CLUSTERS * step;
	let rule = 0;
	for (let size = step; size <= most; size += step) {
		const found = ruleWithin(aims, size, designOf(drawing, size), rule);
		if (found.beta <= aims.maximumBeta) return { sampleSize: size, ...found };
		// The rule of a larger sample is never smaller, but for the steps of a finite lot.
		rule = Math.max(0, found.decisionRule - 1);
	}
	return null;
}

/**
 * Rule and risks of a sample as it was drawn.
 *
 * @param aims as for `smallestLotSample`; beta is told, not kept
 * @param size whole, 1 to 5000
 * @param from a rule that is known to be within alpha, to begin with
 * @returns the largest rule within alpha, with both risks
 */
export function ruleWithin(
	aims: LotAims,
	size: number,
	design: SampleDesign,
	from = 0,
): LotRisks & { readonly decisionRule: number } {
	const plan = { sampleSize: size, targetShare: aims.targetShare, lowerShare: aims.lowerShare, design };
	let decisionRule = Math.min(from, size);
	while (decisionRule > 0 && lotRisks({ ...plan, decisionRule }).alpha > aims.maximumAlpha) decisionRule--;
	while (decisionRule < size && lotRisks({ ...plan, decisionRule: decisionRule + 1 }).alpha <= aims.maximumAlpha) decisionRule++;
	return { decisionRule, ...lotRisks({ ...plan, decisionRule }) };
}

/** @param size members that the sample has */
export function designOf(drawing: Drawing, size: number): SampleDesign {
	if (drawing.kind === "simple") return { kind: "finite", lotSize: drawing.lotSize };
	const { perCluster, intraclassCorrelation } = drawing;
	return { kind: "clustered", count: Math.round(size / perCluster), perCluster, intraclassCorrelation };
}
