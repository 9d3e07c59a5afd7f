import type { Store } from "../../src/store/store.js";
import { HOUR_MS } from "../../src/time/clock.js";

/** A year of 12 months of 28 days: what happens lies in it, evenly and in no order that has to do with who it happened to. */
export const YEAR_BEGAN_MS = Date.UTC(2026, 0, 1);
const MONTH_MS = 28 * 24 * HOUR_MS;
export const YEAR_ENDED_MS = YEAR_BEGAN_MS + 12 * MONTH_MS;

/**
 * Puts an invented year on file beside a programme of that size: a reading a month in every household but one in ten, a task and a
 * message for every second household a quarter, a test a month of every jar that is still used, by one statement a table and month.
 */
export async function putYear(store: Store): Promise<void> {
	const put = (sql: string) => store.work.run((tx) => tx.affected(sql));
	const n = "CAST(substr(s.id, 2) AS bigint) - 10000000";
	await put(`UPDATE batch SET made_at_ms = ${YEAR_ENDED_MS} - (CAST(substr(id, 2) AS bigint) * 7919 % 90) * 86400000 - 1`);
	for (let month = 0; month < 12; month++) {
		const began = YEAR_BEGAN_MS + month * MONTH_MS;
		const at = `${began} + (${n}) * 7919 % ${MONTH_MS}`;
		await put(
			`INSERT INTO residual_check (id, container_id, checked_at_ms, free_chlorine_mg_per_l, hours_since_dose, fit_to_drink, flags)
			 SELECT 'r' || substr(s.id, 2) || '-${String(month).padStart(2, "0")}', s.id, ${at}, ((${n}) * 31 + ${month * 7}) % 23 / 10.0, 12, NULL, '[]'
			 FROM container s WHERE (${n}) % 10 <> 0`,
		);
		if (month % 3 > 0) continue;
		const state = (yes: string, no: string) => `CASE WHEN (${n}) % 7 = 0 THEN '${no}' ELSE '${yes}' END`;
		await put(
			`INSERT INTO task (id, code, kind, subject_id, cycle, area_id, assignee_id, state, due_at_ms, opened_at_ms, brief, ladder_step, closed_at_ms)
			 SELECT 'k' || substr(s.id, 2) || '-${month}', substr(s.id, 2), 'check water', s.id, ${month + 1}, s.area_id, s.volunteer_id, ${state("done", "cannot")}, ${at}, ${at}, '{}', (${n}) % 3, ${at} + 1
			 FROM household s WHERE (${n}) % 2 = 0`,
		);
		await put(
			`INSERT INTO message (id, idempotency_key, recipient_id, text, fill, urgent, state, created_at_ms, claim, tries, ended_at_ms, channel)
			 SELECT 'm' || substr(s.id, 2) || '-${month}', 'm' || substr(s.id, 2) || '-${month}', s.volunteer_id, 'water.check.first', '{}', ${store.kind === "postgres" ? "FALSE" : "0"}, ${state("sent", "failed")}, ${at}, 1, 0, ${at} + 1, 'console'
			 FROM household s WHERE (${n}) % 2 = 0`,
		);
	}
	await put(
		`INSERT INTO strength_test (id, batch_id, tested_at_ms, recorded_at_ms, kit, sample_ml, made_up_to_l, reading, low_g_per_l, high_g_per_l, flags)
		 SELECT 't' || s.id, s.id, s.made_at_ms + 1, s.made_at_ms + 1, 'comparator 0-5', 1, 1, '3', 3, CASE WHEN (${n}) % 5 = 0 THEN 3.5 ELSE 5 END, '[]' FROM batch s`,
	);
	await put(
		`INSERT INTO stock_move (id, jar_id, kind, volume_ul, at_ms, recorded_at_ms) SELECT 'm' || s.id, s.id, 'made', 5000000, s.made_at_ms, s.made_at_ms FROM batch s`,
	);
	if (store.kind === "postgres") await store.query("ANALYZE");
	else await put("ANALYZE");
}
