import { escaped as e } from "../../charts/svg.js";
import { localDateOf } from "../../time/local.js";
import type { Estimate, Judged, Verdict } from "../sample/judged.js";
import type { MonthSample } from "./month-samples.js";
import type { MonthlyReport } from "./monthly.js";
import { number, rowName, table } from "./table.js";
import { count, interval, percent } from "./words.js";

/** Under so many pairs, agreement says little (common practice, no source). */
const FEW_PAIRS = 30;

/** @returns what people saw who look after none of the households, with the decision of each sample and its risks */
export function samplesSection({ coverage: { period }, samples }: MonthlyReport): string {
	const heading = "<h2>What an independent sample found</h2>";
	if (samples.length === 0)
		return `<section>${heading}<p>No sample was drawn in this month: nobody has held these figures against what auditors see.</p></section>`;
	const parts = samples.map((sample) => sampleText(sample, period.timeZone));
	return `<section>${heading}${parts.join("")}<ul>${cautionsOfSamples(samples)
		.map((line) => `<li>${e(line)}</li>`)
		.join("")}</ul></section>`;
}

function sampleText(sample: MonthSample, timeZone: string): string {
	const { plan, judged, areaName, areaCode, drawnAtMs, frameHouseholds } = sample;
	const { seen, refused, absent, open } = judged.visits;
	const way = plan.clusters === null ? "at random" : `at random in ${count(plan.clusters)} groups by area`;
	const drawn = `${count(plan.households)} of ${count(frameHouseholds)} households, drawn ${way} on ${localDateOf(drawnAtMs, timeZone)}: ${count(seen)} seen, ${count(absent)} absent, ${count(refused)} refused, ${count(open)} still to be visited.`;
	const rows = judged.estimates.map(
		(estimate) =>
			`${rowName(`${estimate.what.slice(0, 1).toUpperCase()}${estimate.what.slice(1)}`)}${[count(estimate.numerator), count(estimate.denominator), percent(estimate.share), boundsOf(estimate), count(estimate.missing)].map(number).join("")}`,
	);
	const found = table(["", "yes", "of", "share", "95 % interval, %", "missing"], rows, "figures");
	return `<h3>${e(areaName)} <span class="code">${e(areaCode)}</span></h3><p>${e(drawn)}</p>${decision(judged.verdict, plan)}${found}<p>${e(agreementText(judged, sample))}</p>`;
}

function boundsOf(estimate: Estimate): string {
	return estimate.low === null ? "–" : interval(estimate);
}

function decision(verdict: Verdict | null, { aims }: MonthSample["plan"]): string {
	if (!verdict || aims.kind !== "classify")
		return "<p>It wasn't drawn to decide, but to estimate: see the shares with their intervals.</p>";
	const { class: said, decisionRule, sampleSize, passed, missing, alpha, beta } = verdict;
	const [target, lower] = [percent(aims.targetShare), percent(aims.lowerShare)];
	const open = missing > 0 ? `; ${count(missing)} not read` : "";
	return `<p class="decision"><strong>Decision: ${e(said)}</strong>, by positive residual: ${count(passed)} of ${count(sampleSize)} passed, at least ${count(decisionRule)} must${open}. The risk to class an area at ${target} as below is ${percent(alpha)}, one at ${lower} as reaching it ${percent(beta)}.</p>`;
}

function agreementText({ agreement }: Judged, { reportedFrom, reportedTo }: MonthSample): string {
	const days = `${reportedFrom} to ${reportedTo}`;
	if (!agreement) return `No household has both an auditor's reading and one that a volunteer reported (${days}).`;
	const kappa =
		agreement.kappa === null
			? "kappa can't be told, because all readings are of one kind"
			: `kappa ${signed(agreement.kappa)}${agreement.low === null || agreement.high === null ? "" : ` (95 % interval ${signed(agreement.low)} to ${signed(agreement.high)})`}`;
	return `Volunteers' last readings (${days}) and the auditors' agree in ${percent(agreement.observed)} of ${count(agreement.pairs)} households; ${kappa}.`;
}

const signed = (value: number): string => value.toFixed(2).replace("-", "−");

function cautionsOfSamples(samples: readonly MonthSample[]): string[] {
	const some = (is: (sample: MonthSample) => boolean) => samples.some(is);
	const ifSo = (is: boolean, line: string) => (is ? [line] : []);
	return [
		...ifSo(
			some(({ judged: { verdict } }) => verdict !== null),
			"A decision classes an area within its stated risks. It neither measures a share nor ranks areas.",
		),
		...ifSo(
			some(({ judged: { verdict } }) => verdict?.class === "open"),
			"Where the decision is open, visits that are still missing can turn it either way.",
		),
		...ifSo(
			some(({ judged: { visits } }) => visits.absent + visits.refused > 0),
			"Households that were absent or refused may differ from those that were seen.",
		),
		...ifSo(
			some(({ plan }) => plan.clusters !== null),
			"A sample in groups tells less than its number of households, because neighbours resemble each other; the interval takes that into account.",
		),
		...ifSo(
			some(({ judged: { agreement } }) => agreement !== null && agreement.pairs < FEW_PAIRS),
			`Under ${FEW_PAIRS} pairs of readings, agreement says little.`,
		),
		"Chlorine fades between one reading and the next: where an auditor and a volunteer differ, ask and look before judging anybody.",
	];
}
