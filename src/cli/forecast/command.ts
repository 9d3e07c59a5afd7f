import { strengthChartSvg } from "../../charts/strength-chart.js";
import { underChanceOf } from "../../science/under-chance.js";
import { figuresAt, jarBelief } from "../../stock/forecast.js";
import { DAY_MS } from "../../time/clock.js";
import { misused, readOptions, withOptions } from "../options.js";
import type { AddCommand } from "../program.js";
import { type DescribedJar, describedJar } from "./described-jar.js";
import { forecastDisagreements, forecastOptions } from "./options.js";
import { type ForecastReport, forecastReport } from "./report.js";
import { forecastText } from "./text.js";

/** How strong a described batch will be, when to test it, and what to dose. */
export const addForecast: AddCommand = (program, { out, write }) => {
	const command = program
		.command("forecast")
		.description("Forecast a batch that is described here: strength by day, when to test it, what to dose.");
	withOptions(command, forecastOptions).action(async () => {
		const options = readOptions(forecastOptions, command, forecastDisagreements);
		let jar: DescribedJar;
		let report: ForecastReport;
		try {
			jar = describedJar(options.values);
			report = forecastReport(jar, options);
		} catch (error) {
			if (!(error instanceof RangeError)) throw error;
			throw misused([{ at: "together", message: `these can't be: ${error.message}` }]);
		}
		if (options.values.svg !== undefined) await write(options.values.svg, forecastSvg(jar, report));
		out(options.values.json ? `${JSON.stringify(report, withoutInfinity, 2)}\n` : forecastText(report));
	});
};

/** JSON has no Infinity: an open end is null. */
function withoutInfinity(_key: string, value: unknown): unknown {
	return value === Number.POSITIVE_INFINITY ? null : value;
}

function forecastSvg(jar: DescribedJar, report: ForecastReport): string {
	const { facts, policy } = jar;
	const under = underChanceOf(jarBelief(facts));
	const until = report.ageDays + report.asked.days;
	const steps = Math.min(120, Math.max(24, Math.ceil(until * 2)));
	const points = Array.from({ length: steps + 1 }, (_, step) => {
		const day = (until * step) / steps;
		return { day, ...figuresAt(under, facts, policy, Math.round(facts.madeAtMs + day * DAY_MS)) };
	});
	const end = points.at(-1);
	return strengthChartSvg({
		title: `Forecast of a batch of ${report.asked.strength} g/L`,
		description:
			`Expected strength falls from ${points[0]?.medianGPerL.toFixed(1)} g/L when made to ${end?.medianGPerL.toFixed(1)} g/L on day ${until}` +
			(report.retest ? `; the next test is due on day ${report.retest.day.toFixed(1)}.` : "."),
		points,
		tests: report.tests,
		limitGPerL: report.asked.limit,
		todayDay: report.ageDays,
		retestDay: report.retest?.day ?? null,
	});
}
