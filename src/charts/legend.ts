import { lettersOn, widthOf } from "./letters.js";
import { COLOURS, dayMark, onLight, STROKES, testBar } from "./marks.js";
import type { StrengthWords } from "./strength-words.js";
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

/** Of a picture of 420 units. */
const COLUMNS_AT = [12, 214] as const;
const COLUMN = 202;
const WORDS_AT = 38;
const ROW = 25;

/** Words that don't fit beside each other stand below each other. */
function columnsFor(entries: readonly Entry[]): readonly number[] {
	const fit = entries.every(({ words }) => WORDS_AT + widthOf(words, lettersOn(420)) <= COLUMN);
	return fit ? COLUMNS_AT : COLUMNS_AT.slice(0, 1);
}

function entriesOf({ limitGPerL, today, retest, closedTest, openTest }: Named, words: StrengthWords): Entry[] {
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
		{ words: words.median, sample: across("median") },
		{ words: words.interval, sample: band },
		{ words: words.limit(limitGPerL), sample: across("limit") },
		...(closedTest ? [{ words: words.test, sample: bar(false) }] : []),
		...(openTest ? [{ words: words.openTest, sample: bar(true) }] : []),
		...(today === undefined ? [] : [{ words: words.today(today), sample: mark("today") }]),
		...(retest === undefined
			? []
			: [{ words: (retest.isNow ? words.testNow : words.testAgain)(retest.day), sample: mark("retest") }]),
	];
}

/** @returns how much room the legend takes, margin included */
export function legendHeight(named: Named, words: StrengthWords): number {
	const entries = entriesOf(named, words);
	return Math.ceil(entries.length / columnsFor(entries).length) * ROW + 6;
}

/** @returns the legend from a height on, in two columns where they have room */
export function legendParts(named: Named, top: number, said: StrengthWords): string[] {
	const entries = entriesOf(named, said);
	const columns = columnsFor(entries);
	return entries.flatMap(({ words, sample }, i) => {
		const x = columns[i % columns.length] as number;
		const y = top + Math.floor(i / columns.length) * ROW;
		return [...sample(x, y), label(x + WORDS_AT, y + 14, words)];
	});
}
