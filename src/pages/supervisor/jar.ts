import { type StrengthChart, strengthChartSvg } from "../../charts/strength-chart.js";
import type { StrengthWords } from "../../charts/strength-words.js";
import { currentPolicy } from "../../programme/policy.js";
import type { BatchDetail } from "../../stock/batches.js";
import { DAY_MS } from "../../time/clock.js";
import { figure } from "../figure.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { within } from "../part.js";
import { toldAgain } from "../said.js";
import { facts, table } from "../tables.js";
import type { Words } from "../words.js";
import { strengthWords, verdictWords } from "./jars.js";
import type { SupervisorParts } from "./parts.js";

/** A table says the curve in so many rows. */
const ROWS = 15;

/** One jar: how strong, how sure, what was tested and when it is to be tested again. */
export async function jarPage({ store, batches }: SupervisorParts, visit: Visit): Promise<Shown> {
	const { words, nowMs } = visit;
	const code = await within(store, visit, "batch", visit.named["code"] as string);
	const jar = await batches.detail(code);
	const { usableLimitGPerL } = await currentPolicy(store);
	const { forecast, row, tests, curve } = jar;
	const step = Math.max(1, Math.ceil(curve.length / ROWS));
	const main = html`${facts([
		[words("jars.strength"), strengthWords(forecast.now, words)],
		[words("jars.verdict"), verdictWords(forecast, words)],
		[words("jars.retest"), forecast.retestAtMs === null ? words("jars.noRetest") : words.day(forecast.retestAtMs)],
		[
			words("jars.made"),
			words("jars.madeAs", { at: words.moment(row.madeAtMs), strength: words.number(row.madeStrengthGPerL, 1) }),
		],
	])}
${forecast.contradiction && html`<div class="stop"><p>${words("jars.contradicted")}</p></div>`}
${figure(strengthChartSvg(chartOf(jar, usableLimitGPerL, nowMs, words)), words("jars.curveTitle"))}
<h2>${words("jars.testsTitle")}</h2>
${
	tests.length === 0
		? html`<p>${words("jars.noTests")}</p>`
		: table(
				words("jars.tests"),
				[words("jars.testedOn"), words("jars.reading"), words("jars.dilution"), words("jars.says"), words("jars.flags")],
				tests.map(({ testedAtMs, reading, kit, sampleMl, madeUpToL, lowGPerL, highGPerL, flags }) => [
					words.moment(testedAtMs),
					html`<bdi>${reading}</bdi> (<bdi>${kit}</bdi>)`,
					words("jars.diluted", { sample: words.number(sampleMl, 2), litres: words.number(madeUpToL, 2) }),
					highGPerL === null
						? words("jars.orMore", { low: words.number(lowGPerL, 1) })
						: words("jars.between", { low: words.number(lowGPerL, 1), high: words.number(highGPerL, 1) }),
					flags.length === 0 ? "–" : flags.map((flag, i) => html`${i > 0 && html`<br>`}${toldAgain(flag, words)}`),
				]),
			)
}
<h2>${words("jars.curveTitle")}</h2>
${table(
	words("jars.curve"),
	[words("jars.day"), words("jars.strength"), words("jars.chanceUnder", { limit: words.number(usableLimitGPerL, 1) })],
	curve.flatMap((point, i) =>
		i % step === 0
			? [
					[
						words.day(point.atMs),
						strengthWords(point, words),
						words("jars.percent", { percent: words.number(point.chanceUnderLimit * 100, 0) }),
					],
				]
			: [],
	),
)}`;
	return { title: words("jars.one", { jar: code }), main, here: "/team/jars" };
}

function chartOf({ row, forecast, tests, curve }: BatchDetail, limitGPerL: number, nowMs: number, words: Words): StrengthChart {
	const dayOf = (atMs: number) => (atMs - row.madeAtMs) / DAY_MS;
	return {
		title: words("jars.one", { jar: row.code }),
		description: `${strengthWords(forecast.now, words)}. ${forecast.retestAtMs === null ? words("jars.noRetest") : `${words("jars.retest")}: ${words.day(forecast.retestAtMs)}`}`,
		points: curve.map(({ atMs, medianGPerL, lowGPerL, highGPerL }) => ({ day: dayOf(atMs), medianGPerL, lowGPerL, highGPerL })),
		tests: tests.map(({ testedAtMs, lowGPerL, highGPerL }) => ({
			day: Math.max(0, dayOf(testedAtMs)),
			lowGPerL,
			highGPerL: highGPerL ?? Number.POSITIVE_INFINITY,
		})),
		limitGPerL,
		todayDay: dayOf(nowMs),
		retestDay: forecast.retestAtMs === null ? null : dayOf(forecast.retestAtMs),
		words: besideChart(words),
	};
}

function besideChart(words: Words): StrengthWords {
	const day = (of: number) => ({ day: words.number(of, 1) });
	return {
		strengthAxis: words("chart.strengthAxis"),
		dayAxis: words("chart.dayAxis"),
		median: words("chart.median"),
		interval: words("chart.interval"),
		limit: (gPerL) => words("chart.limit", { limit: words.number(gPerL, 1) }),
		test: words("chart.test"),
		openTest: words("chart.openTest"),
		today: (of) => words("chart.today", day(of)),
		testNow: (of) => words("chart.testNow", day(of)),
		testAgain: (of) => words("chart.testAgain", day(of)),
		number: (value) => words.number(value, 1),
	};
}
