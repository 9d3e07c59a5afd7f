/** What stands beside a strength curve, in one language. */
export interface StrengthWords {
	readonly strengthAxis: string;
	readonly dayAxis: string;
	readonly median: string;
	readonly interval: string;
	readonly limit: (gPerL: number) => string;
	readonly test: string;
	/** A test that said this or more. */
	readonly openTest: string;
	/** Days from the making. */
	readonly today: (day: number) => string;
	readonly testNow: (day: number) => string;
	readonly testAgain: (day: number) => string;
	readonly number: (value: number) => string;
}

const shown = (value: number): string => String(Math.round(value * 10) / 10);

export const STRENGTH_IN_ENGLISH: StrengthWords = {
	strengthAxis: "available chlorine, g/L",
	dayAxis: "days since it was made",
	median: "expected (median)",
	interval: "90 % interval",
	limit: (gPerL) => `usable limit ${shown(gPerL)} g/L`,
	test: "what a test said",
	openTest: "test: this or more",
	today: (day) => `today, day ${shown(day)}`,
	testNow: (day) => `test now, day ${shown(day)}`,
	testAgain: (day) => `test again, day ${shown(day)}`,
	number: shown,
};
