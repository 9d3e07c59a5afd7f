import type { INestApplicationContext } from "@nestjs/common";
import { RETEST } from "../stock/due-work.js";

import { Store } from "../store/store.js";
import type { District } from "./district.js";
import type { TimelineEvent } from "./timeline.js";

/** @returns what stands at the end of the days: counts, and a task that the reader can answer by hand */
export async function afterDemo(
	services: INestApplicationContext,
	place: District,
	events: readonly TimelineEvent[],
): Promise<string[]> {
	const store = services.get(Store);
	const count = (kind: TimelineEvent["kind"]) => events.filter((event) => event.kind === kind).length;
	const states = await store.query<{ state: string; number: number }>(
		"SELECT state, count(*) AS number FROM task GROUP BY state ORDER BY state",
	);
	// A test of a jar, where one is open: its answer shows most.
	const [open] = await store.query<{ code: string; kind: string; phone: string; name: string }>(
		`SELECT t.code, t.kind, p.phone_e164 AS phone, p.name FROM task t JOIN person p ON p.id = t.assignee_id
		 WHERE t.state = 'open' AND p.phone_e164 IS NOT NULL ORDER BY CASE t.kind WHEN $1 THEN 0 ELSE 1 END, t.opened_at_ms DESC, t.id LIMIT 1`,
		[RETEST],
	);
	const held = `${place.households.length} households, ${place.people.length} people, ${place.batches.length} jars on file`;
	const tasks = states.map(({ state, number }) => `${number} ${state}`).join(", ") || "none";
	return [
		`${held}. Tasks: ${tasks}. ${count("told")} told, ${count("answered")} answered, ${count("escalated")} went to a supervisor, ${count("failed")} sends failed at first or for good.`,
		...(open
			? [`To answer one by hand: task ${open.code} (${open.kind}) is ${open.name}'s, whose (invented) number is ${open.phone}.`]
			: []),
	];
}
