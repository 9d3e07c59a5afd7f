import { gapName, readingsBetween, stretchesOf } from "./ends.js";
import type { Finding } from "./finding.js";
import { BAND_LISTS, type Check, type Protocol } from "./protocol.js";

/** @returns "After the contact time", or the same "at pH 8 and over" */
export function placeName(check: Check, list: (typeof BAND_LISTS)[number]): string {
	return list === "bands" ? check.title : `${check.title}, at pH 8 and over`;
}

/**
 * Readings that no band holds, and readings that several hold: of those nobody would know what follows.
 * @returns one refusal for each gap and each overlap of each check, with its numbers
 */
export function partitionFindings(protocol: Protocol): Finding[] {
	return protocol.checks.flatMap((check, c) =>
		BAND_LISTS.flatMap((list) =>
			stretchesOf(check[list] ?? [])
				// A check without bands of its own for pH 8 has no gap there: the other bands hold.
				.filter(({ holders }) => check[list] !== undefined && holders.length !== 1)
				.map((stretch): Finding => {
					const isGap = stretch.holders.length === 0;
					const bands = stretch.holders.map(({ code }) => `"${code}"`).join(" and ");
					const open = stretch.end.mgPerL === Number.POSITIVE_INFINITY;
					return {
						severity: "refuse",
						code: isGap ? "gap" : "overlap",
						sentence: isGap
							? `${placeName(check, list)}: no band holds readings ${readingsBetween(stretch)} (gap ${gapName(stretch)}).`
							: `${placeName(check, list)}: ${bands} each hold readings ${readingsBetween(stretch)} (overlap ${gapName(stretch)}).`,
						at: `/checks/${c}/${list}`,
						figures: { startMgPerL: stretch.start.mgPerL, ...(open ? {} : { endMgPerL: stretch.end.mgPerL }) },
					};
				}),
		),
	);
}
