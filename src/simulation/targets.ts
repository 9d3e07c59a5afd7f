import { CAUSES, type Cause } from "./causes.js";
import type { Outcome } from "./outcome.js";
import { intervalOf, ratioOf, unsafeDays } from "./summary.js";

/** What was hoped for of the program, against a fixed calendar of seven days. */
interface Target {
	readonly way: string;
	readonly hoped: string;
	readonly mostTests: number;
	readonly mostUnsafe: number;
}

const TARGETS: readonly Target[] = [
	{
		way: "sparing",
		hoped: "Half the tests of a fixed 7 days at no more unsafe household-days",
		mostTests: 0.5,
		mostUnsafe: 1,
	},
	{
		way: "program",
		hoped: "A quarter of the unsafe household-days of a fixed 7 days with as many tests",
		mostTests: 1,
		mostUnsafe: 0.25,
	},
];

/** Causes that are named where a target is missed. */
const NAMED = 3;

/** @returns a line for each target: what came of it, and what stands in its way */
export function targetLines(outcomes: readonly Outcome[]): string[] {
	const lines = TARGETS.flatMap(({ way, hoped, mostTests, mostUnsafe }) => {
		const tests = ratioOf(outcomes, (outcome) => outcome.tests, way, "days-7");
		const unsafe = ratioOf(outcomes, unsafeDays, way, "days-7");
		if (!tests || !unsafe) return [];
		const isMet = tests.mean <= mostTests && unsafe.mean <= mostUnsafe;
		const worlds = outcomes.filter(
			(one) => one.way === way && outcomes.some((o) => o.seed === one.seed && o.way === "days-7"),
		).length;
		const came = `${tests.mean.toFixed(2)} times the tests, ${unsafe.mean.toFixed(2)} times the unsafe household-days (${worlds} worlds)`;
		return [
			`- ${hoped}: ${isMet ? "**met**" : "**missed**"} by \`${way}\`: ${came}.${isMet ? "" : ` ${inTheWay(outcomes, way)}`}`,
		];
	});
	return lines.length === 0 ? [] : ["## What was hoped for", "", ...lines, ""];
}

function inTheWay(outcomes: readonly Outcome[], way: string): string {
	const of = outcomes.filter((outcome) => outcome.way === way);
	const perThousand = (cause: Cause) =>
		intervalOf(of.map(({ causes, householdDays }) => (1000 * causes[cause]) / householdDays)).mean;
	const largest = (Object.keys(CAUSES) as Cause[])
		.map((cause) => ({ cause, days: perThousand(cause) }))
		.sort((a, b) => b.days - a.days)
		.slice(0, NAMED);
	return `What is left comes mostly of these, of 1000 household-days: ${largest.map(({ cause, days }) => `${days.toFixed(1)} ${CAUSES[cause]}`).join("; ")}.`;
}
