import type { Asked, Subjects } from "../indicator.js";

/**
 * Households on file, and who looked after each when the period ended.
 * What was moved since is read back from the ledger: the first move after the end tells who had the household before it.
 */
export const households: Subjects = {
	one: "household",
	several: "households",
	rows: ({ kind, period, within }) => `
		SELECT h.id, h.code, h.area_id, ${period.isPartial ? "h.volunteer_id" : "CASE WHEN m.subject_id IS NULL THEN h.volunteer_id ELSE m.from_id END"} AS volunteer_id
		FROM household h ${period.isPartial ? "" : movedSince({ kind, period })}
		WHERE ${within("h.area_id")}`,
};

function movedSince({ kind, period }: Pick<Asked, "kind" | "period">): string {
	const fromId = kind === "postgres" ? "(e.detail::json ->> 'fromId')" : "json_extract(e.detail, '$.fromId')";
	return `LEFT JOIN (
			SELECT e.subject_id, ${fromId} AS from_id FROM ledger_entry e
			JOIN (SELECT subject_id, MIN(id) AS id FROM ledger_entry WHERE action = 'household assigned' AND at_ms >= ${period.untilMs}
			      GROUP BY subject_id) first ON first.id = e.id
		) m ON m.subject_id = h.id`;
}
