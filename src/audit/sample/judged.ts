import { type Agreement, agreement } from "../../science/agreement.js";
import { shareOfClusters } from "../../science/cluster-share.js";
import { lotClass } from "../../science/lqas.js";
import { wilsonInterval } from "../../science/wilson.js";
import type { SamplePlan } from "./plan.js";
import type { VisitOutcome } from "./rows.js";

/** A visit with what was found last, and what the volunteer had reported of the same household. */
export interface VisitFacts {
	readonly cluster: number | null;
	/** None: it hasn't been made yet. */
	readonly outcome: VisitOutcome | null;
	readonly freeChlorineMgPerL: number | null;
	readonly treated: boolean | null;
	readonly containerSeen: boolean | null;
	/** Her last reading that counts in the days that are compared; none: there is none. */
	readonly reportedMgPerL: number | null;
}

/** One thing that was looked for, in the households of which it is known. */
export interface Estimate {
	readonly what: "positive residual" | "residual in the accepted range" | "treated" | "container seen";
	readonly numerator: number;
	readonly denominator: number;
	/** Visited or to be visited, and not known. */
	readonly missing: number;
	readonly share: number | null;
	readonly low: number | null;
	readonly high: number | null;
	/** How the interval was reckoned. */
	readonly interval: "Wilson" | "clusters, t" | "none";
	/** Of the clusters as they came out; none for a simple sample. */
	readonly designEffect: number | null;
}

/** Whether the area reaches its target: it classifies, it neither ranks nor estimates. */
export interface Verdict {
	readonly class: "reaches target" | "below target" | "open";
	readonly decisionRule: number;
	readonly sampleSize: number;
	readonly passed: number;
	/** Not read: whatever they were, the class stands, or it is open. */
	readonly missing: number;
	readonly alpha: number;
	readonly beta: number;
}

export interface Judged {
	readonly visits: Readonly<Record<VisitOutcome | "open", number>>;
	readonly estimates: readonly Estimate[];
	/** None where the sample wasn't drawn to classify. */
	readonly verdict: Verdict | null;
	/** Positive residual: volunteers' reports (rows) beside what auditors read (columns), yes and no; none without a pair. */
	readonly agreement: (Agreement & { readonly pairs: number; readonly table: readonly (readonly number[])[] }) | null;
}

interface Limits {
	readonly leastMgPerL: number;
	readonly mostMgPerL: number;
}

/** @returns what a sample says, as far as its visits have been made */
export function judged(plan: SamplePlan, visits: readonly VisitFacts[], { leastMgPerL, mostMgPerL }: Limits): Judged {
	const read = (is: (mgPerL: number) => boolean) => (visit: VisitFacts) =>
		visit.freeChlorineMgPerL === null ? null : is(visit.freeChlorineMgPerL);
	const isPositive = read((mgPerL) => mgPerL >= leastMgPerL);
	const count = (outcome: VisitOutcome | null) => visits.filter((visit) => visit.outcome === outcome).length;
	return {
		visits: { seen: count("seen"), refused: count("refused"), absent: count("absent"), open: count(null) },
		estimates: [
			estimateOf("positive residual", visits, isPositive),
			estimateOf(
				"residual in the accepted range",
				visits,
				read((mgPerL) => mgPerL >= leastMgPerL && mgPerL <= mostMgPerL),
			),
			estimateOf("treated", visits, ({ treated }) => treated),
			estimateOf("container seen", visits, ({ containerSeen }) => containerSeen),
		],
		verdict: verdictOf(plan, visits.map(isPositive)),
		agreement: agreementOf(visits, isPositive, leastMgPerL),
	};
}

type Known = (visit: VisitFacts) => boolean | null;

function estimateOf(what: Estimate["what"], visits: readonly VisitFacts[], known: Known): Estimate {
	const said = visits.map((visit) => ({ cluster: visit.cluster, yes: known(visit) }));
	const denominator = said.filter(({ yes }) => yes !== null).length;
	const numerator = said.filter(({ yes }) => yes === true).length;
	const counts = { what, numerator, denominator, missing: visits.length - denominator };
	if (denominator === 0) return { ...counts, share: null, low: null, high: null, interval: "none", designEffect: null };
	const clusters = [...new Set(said.map(({ cluster }) => cluster))].filter((cluster) => cluster !== null);
	if (clusters.length < 2) {
		const { low, share, high } = wilsonInterval({ successes: numerator, trials: denominator });
		// One cluster alone tells nothing of how areas differ.
		if (clusters.length === 1) return { ...counts, share, low: null, high: null, interval: "none", designEffect: null };
		return { ...counts, share, low, high, interval: "Wilson", designEffect: null };
	}
	const { low, share, high, designEffect } = shareOfClusters(
		clusters.map((cluster) => {
			const members = said.filter((one) => one.cluster === cluster && one.yes !== null);
			return { members: members.length, successes: members.filter(({ yes }) => yes).length };
		}),
	);
	return { ...counts, share, low, high, interval: "clusters, t", designEffect };
}

function verdictOf({ lot, households }: SamplePlan, positive: readonly (boolean | null)[]): Verdict | null {
	if (!lot) return null;
	const passed = positive.filter((yes) => yes === true).length;
	const missing = positive.filter((yes) => yes === null).length;
	const classIf = (correct: number) => lotClass({ correct, sampleSize: households, decisionRule: lot.decisionRule });
	const [worst, best] = [classIf(passed), classIf(passed + missing)];
	const certain = worst === "reachesTarget" ? "reaches target" : "below target";
	return { class: worst === best ? certain : "open", ...lot, sampleSize: households, passed, missing };
}

function agreementOf(visits: readonly VisitFacts[], isPositive: Known, leastMgPerL: number): Judged["agreement"] {
	const table = [
		[0, 0],
		[0, 0],
	];
	for (const visit of visits) {
		const audited = isPositive(visit);
		if (audited === null || visit.reportedMgPerL === null) continue;
		(table[visit.reportedMgPerL >= leastMgPerL ? 0 : 1] as number[])[audited ? 0 : 1]! += 1;
	}
	const pairs = table.flat().reduce((sum, one) => sum + one, 0);
	return pairs === 0 ? null : { ...agreement(table), pairs, table };
}
