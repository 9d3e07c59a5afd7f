import type { Subjects } from "../indicator.js";

/** Messages that were made in the period for people of the area; those that others tell of, or that weren't needed any more, are left out. */
export const messages: Subjects = {
	one: "message",
	several: "messages",
	rows: ({ period: { fromMs, untilMs }, within }) => `
		SELECT m.id, m.id AS code, p.area_id, m.state FROM message m JOIN person p ON p.id = m.recipient_id
		WHERE m.created_at_ms >= ${fromMs} AND m.created_at_ms < ${untilMs} AND m.state NOT IN ('merged', 'withdrawn') AND ${within("p.area_id")}`,
};
