import { InputError } from "../../errors/errors.js";
import { clusterSample, designEffect, finitePopulationSample, sampleForShare } from "../../science/cluster-sample.js";
import { type Drawing, type LotAims, smallestLotSample } from "../../science/lot-sample.js";
import { zOfConfidence } from "../../science/wilson.js";

/** What a sample is for, by which its size is reckoned. */
export type SampleAims =
	/** Tells whether an area reaches a target share or is at the lower one, with both risks kept. */
	| ({ readonly kind: "classify" } & LotAims)
	/** Estimates a share to within half a width on either side. */
	| { readonly kind: "estimate"; readonly halfWidth: number; readonly expectedShare: number; readonly confidence: number }
	/** As many as somebody says. */
	| { readonly kind: "size"; readonly households: number };

export type SampleMethod =
	| { readonly kind: "simple" }
	/** Areas first, then so many households in each. How much households of an area resemble each other is assumed, and said. */
	| { readonly kind: "two stage"; readonly perCluster: number; readonly intraclassCorrelation: number };

/** A sample's size and what it is reckoned from. */
export interface SamplePlan {
	readonly aims: SampleAims;
	readonly method: SampleMethod;
	readonly households: number;
	/** None in a simple sample. */
	readonly clusters: number | null;
	/** 1 + (m - 1)·rho; 1 in a simple sample. */
	readonly designEffect: number;
	/** Fewest that must pass, and both risks, if all are read; none for other aims. */
	readonly lot: { readonly decisionRule: number; readonly alpha: number; readonly beta: number } | null;
}

/**
 * How many households a sample needs.
 * @param population households in the frame, 1 or more
 * @throws InputError `sample-too-large` with both numbers; `invalid-input` where no sample keeps both risks
 */
export function samplePlan(aims: SampleAims, method: SampleMethod, population: number): SamplePlan {
	const effect = method.kind === "simple" ? 1 : designEffect(method.perCluster, method.intraclassCorrelation);
	const common = { aims, method, designEffect: effect };
	const clustersFor = (households: number) =>
		method.kind === "simple" ? null : Math.ceil(households / method.perCluster - 1e-9);
	const plan = (households: number, lot: SamplePlan["lot"] = null): SamplePlan => {
		const clusters = clustersFor(households);
		const drawn = clusters === null ? households : clusters * (method as { perCluster: number }).perCluster;
		if (drawn > population) throw larger(drawn, population);
		return { ...common, households: drawn, clusters, lot };
	};
	switch (aims.kind) {
		case "size":
			return plan(aims.households);
		case "estimate":
			return plan(Math.ceil(estimating(aims, method, population) - 1e-9));
		case "classify": {
			const found = smallestLotSample(aims, drawingOf(method, population));
			if (!found) throw noneKeeps(aims, method, population);
			const { sampleSize, decisionRule, alpha, beta } = found;
			return plan(sampleSize, { decisionRule, alpha, beta });
		}
	}
}

export function drawingOf(method: SampleMethod, population: number): Drawing {
	if (method.kind === "simple") return { kind: "simple", lotSize: Math.min(population, 1_000_000) };
	const { perCluster, intraclassCorrelation } = method;
	return { kind: "clustered", perCluster, intraclassCorrelation };
}

function estimating(aims: Extract<SampleAims, { kind: "estimate" }>, method: SampleMethod, population: number): number {
	const wanted = { halfWidth: aims.halfWidth, share: aims.expectedShare, z: zOfConfidence(aims.confidence) };
	if (method.kind === "simple") return finitePopulationSample(sampleForShare(wanted), population);
	return clusterSample({
		...wanted,
		population,
		perCluster: method.perCluster,
		intraclassCorrelation: method.intraclassCorrelation,
	}).households;
}

function larger(households: number, population: number): InputError {
	return new InputError(
		"sample-too-large",
		`A sample of ${households} households is larger than the ${population} there are: with that few, all of them can be visited.`,
		{ problems: [{ at: "/aims", message: `must lead to at most ${population} households, not ${households}` }] },
	);
}

function noneKeeps({ targetShare, lowerShare }: LotAims, method: SampleMethod, population: number): InputError {
	const few = method.kind === "simple" && population < 1000 ? `, not even all ${population} households` : "";
	return new InputError(
		"invalid-input",
		`No sample tells ${targetShare} from ${lowerShare} with both risks kept${few}: shares further apart, or larger risks, would be right.`,
		{ problems: [{ at: "/aims", message: "must leave more room between targetShare and lowerShare, or allow larger risks" }] },
	);
}
