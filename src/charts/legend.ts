import { COLOURS, dayMark, onLight, STROKES, testBar } from "./marks.js";
import { element, label } from "./svg.js";

/** What a legend names beside the curve; what is absent isn't drawn. */
export interface Named {
	readonly limitGPerL: number;
	/** Days from the making. */
	readonly today: number | undefined;
	/** `isNow`: it is due today, and stands for today too. */
	readonly retest: { readonly day: number; readonly isNow: boolean } | undefined;
	readonly closedTest: boolean;
	readonly openTest: boolean;
}

interface Entry {
	readonly words: string;
	/** Drawn in a box of 28 by 18 units whose upper left corner is (x, y). */
	readonly sample: (x: number, y: number) => string[];
}

const COLUMNS_AT = [12, 214] as const;
const ROW = 24;

function entriesOf({ limitGPerL, today, retest, closedTest, openTest }: Named): Entry[] {
	const across = (stroke: keyof typeof STROKES) => (x: number, y: number) => [
		element("path", { d: `M${x} ${y + 9}h28`, fill: "none", ...STROKES[stroke] }),
	];
	const band = (x: number, y: number) => [
		element("rect", { x, y: y + 1, width: 28, height: 16, fill: COLOURS.band }),
		element("path", { d: `M${x} ${y + 1}h28M${x} ${y + 17}h28`, fill: "none", ...STROKES.edge }),
	];
	const bar = (isOpen: boolean) => (x: number, y: number) => onLight(testBar(x + 14, y + 17, y + 1, isOpen), STROKES.test);
	const mark = (kind: "today" | "retest") => (x: number, y: number) => dayMark(kind, x + 14, y + 10, y + 20);
	return [
		{ words: "expected (median)", sample: across("median") },
		{ words: "90 % interval", sample: band },
		{ words: `usable limit ${shown(limitGPerL)} g/L`, sample: across("limit") },
		...(closedTest ? [{ words: "what a test said", sample: bar(false) }] : []),
		...(openTest ? [{ words: "test: this or more", sample: bar(true) }] : []),
		...(today === undefined ? [] : [{ words: `today, day ${shown(today)}`, sample: mark("today") }]),
		...(retest === undefined
			? []
			: [{ words: `test ${retest.isNow ? "now" : "again"}, day ${shown(retest.day)}`, sample: mark("retest") }]),
	];
}

/** @returns how much room the legend takes, margin included */
export function legendHeight(named: Named): number {
	return Math.ceil(entriesOf(named).length / COLUMNS_AT.length) * ROW + 6;
}

/** @returns the legend in two columns from a height on */
export function legendParts(named: Named, top: number): string[] {
	return entriesOf(named).flatMap(({ words, sample }, i) => {
		const x = COLUMNS_AT[i % COLUMNS_AT.length] as number;
		const y = top + Math.floor(i / COLUMNS_AT.length) * ROW;
		return [...sample(x, y), label(x + 38, y + 14, words)];
	});
}

const shown = (value: number): string => String(Math.round(value * 10) / 10);
