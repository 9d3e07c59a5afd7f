import type { Figure } from "../../audit/coverage/figure.js";
import type { Child } from "../html.js";
import type { Words } from "../words.js";

type Share = Pick<Figure, "share" | "low" | "high">;

/** A share with its interval, in words: "63 % (51 to 74)". */
export function shareWords({ share, low, high }: Share, words: Words): string {
	if (share === null) return words("office.nothingCounted");
	const percent = (value: number) => words.number(value * 100, 1);
	if (low === null || high === null) return words("jars.percent", { percent: percent(share) });
	return words("office.share", { share: percent(share), low: percent(low), high: percent(high) });
}

/** What a share was counted from, as cells of a table. */
export function countCells(figure: Figure, words: Words): Child[] {
	const { numerator, denominator, missing } = figure;
	return [
		shareWords(figure, words),
		words("office.of", { numerator: words.number(numerator), denominator: words.number(denominator) }),
		words.number(missing),
	];
}
