import { CARE } from "../../../generators/due-kinds.js";
import { HOUR_MS } from "../../../time/clock.js";
import type { Subjects } from "../indicator.js";

/** So long a care may be open after it fell due: until then the reminders are at work. Own choice, two days. */
export const CARE_GRACE_HOURS = 48;

/** Generators in service when the period ended: whether they had run by then, and how many cares were open for too long. */
export const generators: Subjects = {
	one: "generator",
	several: "generators in service",
	rows: ({ period: { untilMs }, place, within }) => `
		SELECT g.id, g.code, g.area_id,
		  (SELECT COUNT(*) FROM generator_run r WHERE r.generator_id = g.id AND r.ended_at_ms < ${untilMs}) AS runs,
		  (SELECT COUNT(*) FROM task t WHERE t.kind = ${place(CARE)} AND t.subject_id = g.id AND t.opened_at_ms < ${untilMs}
		    AND t.due_at_ms < ${untilMs - CARE_GRACE_HOURS * HOUR_MS} AND (t.closed_at_ms IS NULL OR t.closed_at_ms >= ${untilMs})) AS late_cares
		FROM generator g
		WHERE ${within("g.area_id")}
		  AND (g.in_service OR EXISTS (SELECT 1 FROM generator_outage o WHERE o.generator_id = g.id AND o.from_ms >= ${untilMs}))
		  AND NOT EXISTS (SELECT 1 FROM generator_outage o WHERE o.generator_id = g.id AND o.from_ms < ${untilMs} AND (o.until_ms IS NULL OR o.until_ms >= ${untilMs}))`,
};
