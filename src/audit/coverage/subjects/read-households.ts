import { DAY_MS } from "../../../time/clock.js";
import { guideline } from "../../../water/protocol/guideline.js";
import type { Asked, Subjects } from "../indicator.js";

/** What the last reading of a household's water said, as bits. */
export const SAID = { treated: 1, positive: 2, accepted: 4 } as const;
const BITS = 8;

/** A reading that was too early, or of water that had been poured out, says nothing. */
export const COUNTS = (reading: string) =>
	`(${reading}.flags IS NULL OR (${reading}.flags NOT LIKE '%too early%' AND ${reading}.flags NOT LIKE '%of earlier water%'))`;

/** @returns SQL that is true where the water read was treated: a dose was known, or free chlorine was found */
export const TREATED = (reading: string) =>
	`(${reading}.dose_id IS NOT NULL OR ${reading}.hours_since_dose IS NOT NULL OR ${reading}.free_chlorine_mg_per_l > 0)`;

export const POSITIVE = (reading: string, { policy }: Pick<Asked, "policy">) =>
	`${reading}.free_chlorine_mg_per_l >= ${policy.water.leastAtUseMgPerL}`;

/** @returns SQL that is true where the household's protocol found the water fit; where none judged it, where it lies in the guideline's range */
export const ACCEPTED = (reading: string, asked: Pick<Asked, "policy" | "kind">) =>
	`CASE WHEN ${reading}.fit_to_drink IS NULL THEN ${POSITIVE(reading, asked)} AND ${reading}.free_chlorine_mg_per_l <= ${guideline.mostMgPerL}
	 ELSE ${reading}.fit_to_drink${asked.kind === "sqlite" ? " <> 0" : ""} END`;

/** @returns how many whole intervals between visits the period holds, and their length */
export function visitStretches({ period, policy }: Pick<Asked, "period" | "policy">): { count: number; lengthMs: number } {
	const lengthMs = Math.round(policy.water.checkIntervalDays * DAY_MS);
	return { count: Math.floor((period.untilMs - period.fromMs) / lengthMs), lengthMs };
}

/**
 * Households on file with what was read in their water in the period: `readings` that counted, `said` by the last one, `all_positive`
 * over all of them, and in how many whole intervals there was one (`stretches`).
 */
export const readHouseholds: Subjects = {
	one: "household",
	several: "households",
	partsOf: "household",
	rows: (asked) => {
		const { period, within, part } = asked;
		const { count, lengthMs } = visitStretches(asked);
		const said = [
			`CASE WHEN ${TREATED("r")} THEN ${SAID.treated} ELSE 0 END`,
			`CASE WHEN ${POSITIVE("r", asked)} THEN ${SAID.positive} ELSE 0 END`,
			`CASE WHEN ${ACCEPTED("r", asked)} THEN ${SAID.accepted} ELSE 0 END`,
		].join(" + ");
		const stretch = `(r.checked_at_ms - ${period.fromMs}) / ${lengthMs}`;
		// The last reading's bits ride on its instant: the greatest of them is the last.
		return `
		SELECT h.id, h.code, h.area_id, COUNT(c.id) AS containers, COUNT(r.id) AS readings,
		  MAX(r.checked_at_ms * ${BITS} + ${said}) % ${BITS} AS said,
		  MIN(CASE WHEN r.id IS NULL THEN NULL WHEN ${POSITIVE("r", asked)} THEN 1 ELSE 0 END) AS all_positive,
		  COUNT(DISTINCT CASE WHEN ${stretch} < ${count} THEN ${stretch} END) AS stretches
		FROM household h LEFT JOIN container c ON c.household_id = h.id
		LEFT JOIN residual_check r ON r.container_id = c.id AND r.checked_at_ms >= ${period.fromMs} AND r.checked_at_ms < ${period.untilMs} AND ${COUNTS("r")}
		WHERE ${within("h.area_id")} AND ${part("h.id")} GROUP BY h.id`;
	},
};
