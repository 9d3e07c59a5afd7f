import { strengthChartSvg } from "../../charts/strength-chart.js";
import { underChanceOf } from "../../science/under-chance.js";
import { figuresAt, jarBelief } from "../../stock/forecast.js";
import { DAY_MS } from "../../time/clock.js";
import { misused, readOptions, withOptions } from "../options.js";
import type { AddCommand, Outlets } from "../program.js";
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
		if (options.values.svg !== undefined) await drawn(options.values.svg, forecastSvg(jar, report, options.values.days), write);
		out(options.values.json ? `${JSON.stringify(report, withoutInfinity, 2)}\n` : forecastText(report));
	});
};

/** JSON has no Infinity: an open end is null. */
function withoutInfinity(_key: string, value: unknown): unknown {
	return value === Number.POSITIVE_INFINITY ? null : value;
}

async function drawn(path: string, svg: string, write: Outlets["write"]): Promise<void> {
	try {
		await write(path, svg);
	} catch (error) {
		throw misused([{ at: "--svg", message: `can't be written: ${(error as Error).message}` }]);
	}
}

function forecastSvg(jar: DescribedJar, report: ForecastReport, daysAhead: number): string {
	const { facts, policy } = jar;
	const under = underChanceOf(jarBelief(facts));
	const until = jar.ageDays + daysAhead;
	const steps = Math.min(120, Math.max(24, Math.ceil(until * 2)));
	const points = Array.from({ length: steps + 1 }, (_, step) => {
		const day = (until * step) / steps;
		return { day, ...figuresAt(under, facts, policy, Math.round(facts.madeAtMs + day * DAY_MS)) };
	});
	const [made, end] = [points[0]!.medianGPerL.toFixed(1), points.at(-1)!.medianGPerL.toFixed(1)];
	const { batch, rules, retest, tests } = report;
	return strengthChartSvg({
		title: `Forecast of a batch of ${batch.strengthGPerL} g/L`,
		description:
			`The expected strength falls from ${made} g/L when made to ${end} g/L on day ${until}; the usable limit is ${rules.usableLimitGPerL} g/L. ` +
			(retest ? `The next test is due on day ${retest.day.toFixed(1)}.` : "It is not for drinking water any more."),
		points,
		tests,
		limitGPerL: rules.usableLimitGPerL,
		todayDay: jar.ageDays,
		retestDay: retest?.day ?? null,
	});
}
