import type { Figure } from "../coverage/figure.js";

// How a report says its figures: one way, so that a table and a sentence agree.

const MONTHS = "January February March April May June July August September October November December".split(" ");

/** @returns `October 2026` for `2026-10` */
export function monthInWords(month: string): string {
	return `${MONTHS[Number(month.slice(5, 7)) - 1]} ${month.slice(0, 4)}`;
}

/** @returns `78.1 %`, or a stroke where nothing was counted */
export function percent(share: number | null): string {
	return share === null ? "–" : `${(share * 100).toFixed(1)} %`;
}

/** @returns `70.2 to 84.6` */
export function interval({ low, high }: Pick<Figure, "low" | "high">): string {
	return low === null || high === null ? "" : `${(low * 100).toFixed(1)} to ${(high * 100).toFixed(1)}`;
}

/** @returns `1,234` */
export function count(number: number): string {
	return String(number).replace(/\B(?=(\d{3})+$)/g, ",");
}

/**
 * @returns how a share has moved, in points of a hundred; and whether chance alone might have done it: where the intervals overlap, it might
 * (a cautious rule: common practice, no source)
 */
export function change(now: Figure, before: Figure | undefined): string {
	if (!before || now.share === null || before.share === null) return "–";
	const points = (now.share - before.share) * 100;
	const moved = `${points > 0 ? "+" : points < 0 ? "−" : "±"}${Math.abs(points).toFixed(1)}`;
	const mayBeChance = now.low! <= before.high! && before.low! <= now.high!;
	return mayBeChance ? `${moved}, may be chance` : moved;
}

/** @returns `2026-11-03 08:15 UTC` */
export function utcMinute(atMs: number): string {
	return `${new Date(atMs).toISOString().slice(0, 16).replace("T", " ")} UTC`;
}
