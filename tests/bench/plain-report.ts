import type { Store } from "../../src/store/store.js";
import { DAY_MS } from "../../src/time/clock.js";

export type PlainFigures = Readonly<Record<string, readonly [numerator: number, denominator: number]>>;

/**
 * The floor of the national report: the same figures for the whole country and the whole period as somebody who knows the schema would
 * ask the database for them by hand, one statement for each table of facts, with the default rules written into it.
 */
export async function plainFigures(store: Pick<Store, "query" | "kind">, fromMs: number, untilMs: number): Promise<PlainFigures> {
	const ask = async (sql: string) => (await store.query<Record<string, number>>(sql))[0] as Record<string, number>;
	const fit = store.kind === "sqlite" ? "r.fit_to_drink = 1" : "r.fit_to_drink";
	const fortnights = Math.floor((untilMs - fromMs) / (14 * DAY_MS));
	const home = await ask(
		`SELECT COUNT(*) AS households, SUM(CASE WHEN volunteer_id IS NULL THEN 0 ELSE 1 END) AS assigned FROM household`,
	);
	const water = await ask(
		`SELECT SUM(CASE WHEN containers > 0 THEN 1 ELSE 0 END) AS with_container, SUM(CASE WHEN containers > 0 AND fortnights = ${fortnights} THEN 1 ELSE 0 END) AS visited,
		  SUM(CASE WHEN readings > 0 THEN 1 ELSE 0 END) AS read, SUM(last % 2) AS treated, SUM(last / 2 % 2) AS positive, SUM(last / 4 % 2) AS accepted,
		  SUM(CASE WHEN readings > 1 THEN 1 ELSE 0 END) AS read_twice, SUM(CASE WHEN readings > 1 AND least >= 0.2 THEN 1 ELSE 0 END) AS consistent
		 FROM (SELECT h.id, COUNT(c.id) AS containers, COUNT(r.id) AS readings, MIN(r.free_chlorine_mg_per_l) AS least,
		   COUNT(DISTINCT CASE WHEN (r.checked_at_ms - ${fromMs}) / ${14 * DAY_MS} < ${fortnights} THEN (r.checked_at_ms - ${fromMs}) / ${14 * DAY_MS} END) AS fortnights,
		   MAX(r.checked_at_ms * 8
		     + CASE WHEN r.dose_id IS NOT NULL OR r.hours_since_dose IS NOT NULL OR r.free_chlorine_mg_per_l > 0 THEN 1 ELSE 0 END
		     + CASE WHEN r.free_chlorine_mg_per_l >= 0.2 THEN 2 ELSE 0 END
		     + CASE WHEN CASE WHEN r.fit_to_drink IS NULL THEN r.free_chlorine_mg_per_l BETWEEN 0.2 AND 5 ELSE ${fit} END THEN 4 ELSE 0 END) % 8 AS last
		  FROM household h LEFT JOIN container c ON c.household_id = h.id
		  LEFT JOIN residual_check r ON r.container_id = c.id AND r.checked_at_ms >= ${fromMs} AND r.checked_at_ms < ${untilMs}
		    AND (r.flags IS NULL OR r.flags NOT LIKE '%too early%' AND r.flags NOT LIKE '%of earlier water%')
		  GROUP BY h.id) x`,
	);
	const stock = await ask(
		`SELECT COUNT(*) AS jars, SUM(CASE WHEN made_at_ms >= ${untilMs - 60 * DAY_MS} THEN 1 ELSE 0 END) AS in_date,
		  SUM(CASE WHEN tested_at_ms >= ${untilMs - 21 * DAY_MS} THEN 1 ELSE 0 END) AS tested,
		  SUM(CASE WHEN tested_at_ms >= ${untilMs - 21 * DAY_MS} AND COALESCE((low_g_per_l + high_g_per_l) / 2, low_g_per_l) >= 3.5 THEN 1 ELSE 0 END) AS strong
		 FROM batch b LEFT JOIN strength_test t ON t.id = (SELECT id FROM strength_test l WHERE l.batch_id = b.id AND l.tested_at_ms < ${untilMs} AND l.tested_at_ms >= b.made_at_ms ORDER BY tested_at_ms DESC, id DESC LIMIT 1)
		 WHERE b.made_at_ms < ${untilMs} AND b.set_aside_until_ms IS NULL
		   AND COALESCE((SELECT SUM(volume_ul) FROM stock_move m WHERE m.jar_id = b.id AND m.at_ms < ${untilMs}), CASE WHEN b.state IN ('empty', 'discarded') THEN 0 ELSE 1 END) > 0`,
	);
	const work = await ask(
		`SELECT SUM(CASE WHEN state <> 'open' OR ladder_step > 0 THEN 1 ELSE 0 END) AS decided, SUM(CASE WHEN state = 'done' AND ladder_step = 0 THEN 1 ELSE 0 END) AS in_time
		 FROM task WHERE due_at_ms >= ${fromMs} AND due_at_ms < ${untilMs} AND state <> 'withdrawn'`,
	);
	const told = await ask(
		`SELECT COUNT(*) AS ended, SUM(CASE state WHEN 'failed' THEN 1 ELSE 0 END) AS failed FROM message
		 WHERE created_at_ms >= ${fromMs} AND created_at_ms < ${untilMs} AND state IN ('sent', 'failed')`,
	);
	const share = (numerator: number | undefined, denominator: number | undefined) =>
		[Number(numerator), Number(denominator)] as const;
	return {
		"households-assigned": share(home["assigned"], home["households"]),
		"households-visited-in-time": share(water["visited"], water["withContainer"]),
		"water-treated": share(water["treated"], water["read"]),
		"residual-positive": share(water["positive"], water["read"]),
		"residual-accepted": share(water["accepted"], water["read"]),
		"treated-consistently": share(water["consistent"], water["readTwice"]),
		"effective-coverage": share(water["positive"], home["households"]),
		"stock-in-date": share(stock["inDate"], stock["jars"]),
		"stock-in-strength": share(stock["strong"], stock["tested"]),
		"tasks-in-time": share(work["inTime"], work["decided"]),
		"reminders-failed": share(told["failed"], told["ended"]),
	};
}
