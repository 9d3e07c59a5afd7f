import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { DOSES_CLOUDY, endOfUse } from "./end-of-use.js";
import type { Forecast } from "./forecast.js";
import { refreshForecasts } from "./forecasts.js";
import type { Calendars } from "./places.js";
import { roundedFigures } from "./rounded-figures.js";

interface Parts {
	readonly ids: Ids;
	readonly calendars: Calendars;
	readonly policy: Policy;
}

/**
 * A jar that was set aside for surfaces and tests strong after all is for drinking water again: a reading was wrong, not the jar. One
 * that was set aside for its age or its chlorate stays so, for no test mends that.
 * @param forecast of the jar, after the test
 * @returns whether it was set aside, and is back in use now
 */
export async function backInUse(
	tx: Transaction,
	{ ids, calendars, policy }: Parts,
	jarId: string,
	forecast: Forecast,
	by: { readonly actor: string; readonly nowMs: number },
): Promise<boolean> {
	if (forecast.verdict !== "usable") return false;
	const [jar] = await tx.query<{ code: string; areaId: string; madeStrengthGPerL: number; dosesCloudy: boolean | number }>(
		`SELECT b.code, b.area_id, b.made_strength_g_per_l, ${DOSES_CLOUDY} AS doses_cloudy FROM batch b
		 WHERE b.id = $1 AND b.set_aside_until_ms IS NOT NULL AND b.state = 'in use'`,
		[jarId],
	);
	if (!jar) return false;
	const { code, areaId, madeStrengthGPerL, dosesCloudy } = jar;
	const { nowMs } = by;
	const ageing = { madeStrengthGPerL, forecast, dosesCloudy: Boolean(dosesCloudy), setAsideUntilMs: null };
	if ((endOfUse(ageing, nowMs, policy)?.dueAtMs ?? Number.POSITIVE_INFINITY) <= nowMs) return false;
	await tx.affected("UPDATE batch SET set_aside_until_ms = NULL WHERE id = $1", [jarId]);
	// When it is to be set aside next, and its keeper's stock, are another thing now.
	await refreshForecasts(tx, calendars, [jarId], policy, nowMs);
	await record(tx, ids, [
		{
			...{ atMs: nowMs, actor: by.actor, action: "jar back in use", subjectKind: "batch", subjectId: jarId, areaId },
			detail: { code, because: "a test found it strong enough", ...roundedFigures(forecast) },
		},
	]);
	return true;
}
