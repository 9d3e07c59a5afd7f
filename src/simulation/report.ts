import { comparisonChartSvg } from "../charts/comparison-chart.js";
import { reliabilityChartSvg } from "../charts/reliability-chart.js";
import { DAY_MS } from "../time/clock.js";
import type { CalibrationPoint } from "./calibration.js";
import { CAUSES, type Cause } from "./causes.js";
import { calibrationCsv, outcomesCsv } from "./csv.js";
import type { RunResult } from "./one.js";
import type { Outcome } from "./outcome.js";
import { SIMULATION_START_MS } from "./programme.js";
import {
	calibrationTable,
	type Interval,
	intervalOf,
	MEASURES,
	ratioOf,
	reliabilityOf,
	SEASONS,
	unsafeByBleach,
	unsafeDays,
} from "./summary.js";
import { targetLines } from "./targets.js";
import { WAYS } from "./ways.js";

/** A report as files: name and text. */
export type ReportFiles = Readonly<Record<string, string>>;

/** @param results of one size and length, in any order */
export function reportOf(results: readonly RunResult[]): ReportFiles {
	const outcomes = results.map(({ outcome }) => outcome).sort((a, b) => a.seed - b.seed || (a.way < b.way ? -1 : 1));
	const points = results.filter(({ outcome }) => outcome.way === "program").flatMap(({ calibration }) => calibration);
	return {
		"report.md": page(outcomes, points),
		"comparison.svg": comparisonSvg(outcomes),
		...(points.length > 0 ? { "reliability.svg": reliabilitySvg(points), "calibration.csv": calibrationCsv(points) } : {}),
		"runs.csv": outcomesCsv(outcomes),
	};
}

const waysIn = (outcomes: readonly Outcome[]) => WAYS.filter(({ name }) => outcomes.some(({ way }) => way === name));
const of = (outcomes: readonly Outcome[], way: string) => outcomes.filter((outcome) => outcome.way === way);

function page(outcomes: readonly Outcome[], points: readonly CalibrationPoint[]): string {
	const ways = waysIn(outcomes);
	const seeds = [...new Set(outcomes.map(({ seed }) => seed))];
	const [first] = outcomes;
	const lines = [
		`# Simulated programmes, ${first?.days} days`,
		"",
		`Invented programmes of ${first?.households} households and ${first?.volunteers} volunteers worked for ${first?.days} days of virtual time through the program's own services, in ${ways.length} ways, each way in the same ${seeds.length} worlds (seeds ${rangesOf(seeds)}). What happens to bleach, water and people follows another model than the forecast's, fitted to published observations and fixed beforehand: \`src/simulation/truth/constants.ts\`.`,
		"",
		...(first && first.days < 365
			? ["This is less than the year that the seasons take, and few worlds make wide intervals: read it as a first look.", ""]
			: []),
		"Means over the worlds, with 95 % intervals (Student's t):",
		"",
		`| | ${ways.map(({ about }) => about).join(" | ")} |`,
		`|---|${ways.map(() => "---:").join("|")}|`,
		...MEASURES.map(({ name, of: figure }) => {
			const cells = ways.map((way) => shown(intervalOf(of(outcomes, way.name).map(figure))));
			return `| ${name} | ${cells.join(" | ")} |`;
		}),
		"",
		"![Unsafe household-days, weak bleach that nobody knew of, tests and messages, by way of working](comparison.svg)",
		"",
		...against(outcomes),
		...targetLines(outcomes),
		...causeLines(outcomes),
		...calibrationLines(points),
	];
	return `${lines.join("\n")}\n`;
}

/** The program against the calendars, world by world. */
function against(outcomes: readonly Outcome[]): string[] {
	const ours = WAYS.filter(({ isByForecast }) => isByForecast);
	const pairs = ours.flatMap((own) => WAYS.filter(({ isByForecast }) => !isByForecast).map((other) => ({ own, other })));
	const figures = [({ tests }: Outcome) => tests, unsafeDays, unsafeByBleach, ({ unknownWeakDays }: Outcome) => unknownWeakDays];
	const rows = pairs.flatMap(({ own, other }) => {
		const ratios = figures.map((figure) => ratioOf(outcomes, figure, own.name, other.name));
		if (ratios.every((ratio) => ratio === undefined)) return [];
		return [`| ${own.about} | ${other.about} | ${ratios.map((ratio) => (ratio ? shown(ratio) : "-")).join(" | ")} |`];
	});
	if (rows.length === 0) return [];
	return [
		"Figures where the forecast asks, divided by those of the other ways in the same world:",
		"",
		"| | against | tests | unsafe household-days | of them beyond the meant dose | weak and unknown |",
		"|---|---|---:|---:|---:|---:|",
		...rows,
		"",
	];
}

/** What unsafe household-days came of, way by way. */
function causeLines(outcomes: readonly Outcome[]): string[] {
	const ways = waysIn(outcomes);
	const cells = (cause: Cause) =>
		ways.map((way) => {
			const { mean } = intervalOf(
				of(outcomes, way.name).map(({ causes, householdDays }) => (1000 * causes[cause]) / householdDays),
			);
			return mean.toFixed(mean >= 100 ? 0 : 1);
		});
	return [
		"## What unsafe household-days come of",
		"",
		"Per 1000 household-days, means over the worlds. Each unsafe hour is put down to the first of these that makes it: what the meant dose would have left unsafe too is the water's, what the measuring added is the measuring's, and so on down to the bleach.",
		"",
		`| | ${ways.map(({ about }) => about).join(" | ")} |`,
		`|---|${ways.map(() => "---:").join("|")}|`,
		...Object.entries(CAUSES).map(([cause, words]) => `| ${words} | ${cells(cause as Cause).join(" | ")} |`),
		"",
	];
}

function calibrationLines(points: readonly CalibrationPoint[]): string[] {
	if (points.length === 0) return [];
	return [
		"## Does the 90 % interval hold the truth?",
		"",
		"Each jar that a volunteer held, once a week:",
		"",
		"| jars | looks | the 90 % interval held the truth | weaker than it |",
		"|---|---:|---:|---:|",
		...calibrationTable(points, monthOf).map(
			({ group, points: number, heldShare, belowShare }) =>
				`| ${group} | ${number} | ${percent(heldShare)} | ${percent(belowShare)} |`,
		),
		"",
		"![What intervals were said to hold against what they held](reliability.svg)",
		"",
	];
}

const monthOf = (day: number): number => new Date(SIMULATION_START_MS + (day + 0.5) * DAY_MS).getUTCMonth();
const percent = (share: number): string => `${(share * 100).toFixed(1)} %`;

function shown({ mean, low, high }: Interval): string {
	const digits = Math.abs(mean) >= 100 ? 0 : Math.abs(mean) >= 10 ? 1 : 2;
	return low === high ? mean.toFixed(digits) : `${mean.toFixed(digits)} (${low.toFixed(digits)} to ${high.toFixed(digits)})`;
}

/** @returns "101-103, 107" */
export function rangesOf(numbers: readonly number[]): string {
	const ranges: [number, number][] = [];
	for (const number of [...numbers].sort((a, b) => a - b)) {
		const last = ranges.at(-1);
		if (last && number === last[1] + 1) last[1] = number;
		else ranges.push([number, number]);
	}
	return ranges.map(([from, until]) => (from === until ? `${from}` : `${from}-${until}`)).join(", ");
}

/** Those that are drawn. */
const DRAWN = [0, 1, 4, 5, 7] as const;

function comparisonSvg(outcomes: readonly Outcome[]): string {
	const ways = waysIn(outcomes);
	const panels = DRAWN.map((index) => {
		const measure = MEASURES[index] as (typeof MEASURES)[number];
		return {
			name: measure.name,
			rows: ways.map(({ name, about }) => {
				const { mean, low, high } = intervalOf(of(outcomes, name).map(measure.of));
				return { name: about.replace("retest ", ""), value: mean, low: Math.max(0, low), high };
			}),
		};
	});
	const unsafe = panels[0]?.rows.map(({ name, value }) => `${name} ${value.toFixed(1)}`).join(", ");
	return comparisonChartSvg({
		title: "Simulated programmes, by when jars are retested",
		description: `Unsafe household-days per 1000: ${unsafe}.`,
		panels,
	});
}

function reliabilitySvg(points: readonly CalibrationPoint[]): string {
	const lines = [
		{ name: "all year", points: reliabilityOf(points) },
		...SEASONS.map(({ name, months }) => {
			const those: readonly number[] = months;
			return { name, of: points.filter(({ day }) => those.includes(monthOf(day))) };
		})
			.filter(({ of: some }) => some.length > 0)
			.map(({ name, of: some }) => ({ name, points: reliabilityOf(some) })),
	];
	return reliabilityChartSvg({
		title: "What intervals were said to hold, and held",
		description: `Of ${points.length} looks at jars the 90 % interval held the true strength in ${percent(reliabilityOf(points).find(({ saidShare }) => saidShare === 0.9)?.heldShare ?? 0)}.`,
		lines,
	});
}
