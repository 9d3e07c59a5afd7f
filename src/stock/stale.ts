import { Entity, ForeignKey, Index, PrimaryColumn } from "typeorm";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import { InstantColumn, TextColumn } from "../store/columns.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { BatchRow } from "./rows.js";

/** A jar whose forecast was made by what holds no more: it is made anew in the background, and stands until then. */
@Entity("forecast_stale")
export class StaleForecastRow {
	@ForeignKey(() => BatchRow) @PrimaryColumn({ type: "text" }) batchId!: string;
	@Index("forecast_stale_since") @InstantColumn() sinceMs!: number;
	/** In a few words, for the ledger. */
	@TextColumn() because!: string;
}

/** Which jars, and why. */
export interface Stale {
	readonly because: "rules changed" | "areas changed";
	/** Left out: those of every area. */
	readonly areaIds?: readonly string[];
	readonly nowMs: number;
	/** A jar that is older isn't used any more, whatever is forecast. */
	readonly oldestUseDays: number;
}

/**
 * Says of jars that their forecasts are to be made anew, in one statement: 200 000 of them take a second or two, and the sweep's
 * pages do the rest.
 * @returns how many
 */
export async function forecastAnew(tx: Transaction, ids: Ids, of: Stale): Promise<number> {
	const { because, areaIds, nowMs, oldestUseDays } = of;
	if (areaIds?.length === 0) return 0;
	const where = areaIds ? `AND area_id IN (${placeholders(areaIds.length, 4)})` : "";
	const jars = await tx.affected(
		`INSERT INTO forecast_stale (batch_id, since_ms, because)
		 SELECT id, CAST($1 AS bigint), CAST($2 AS text) FROM batch
		 WHERE forecast IS NOT NULL AND state IN ('in use', 'weak') AND made_at_ms >= $3 ${where}
		 ON CONFLICT (batch_id) DO UPDATE SET since_ms = excluded.since_ms, because = excluded.because`,
		[nowMs, because, nowMs - oldestUseDays * DAY_MS, ...(areaIds ?? [])],
	);
	const entry = { atMs: nowMs, actor: "office", subjectKind: "programme", subjectId: "programme" };
	if (jars > 0) await record(tx, ids, [{ ...entry, action: "forecasts to be made anew", detail: { because, jars } }]);
	return jars;
}

/** @returns whether jars are forecast differently by other rules */
export function changesForecasts(before: Policy, after: Policy): boolean {
	return FORECAST_RULES.some((rule) => JSON.stringify(before[rule]) !== JSON.stringify(after[rule]));
}

const FORECAST_RULES = [
	"usableLimitGPerL",
	"toleratedChance",
	"shortestRetestDays",
	"longestRetestDays",
	"retestEveryDays",
	"oldestUseDays",
	"testKit",
	"dilutions",
] as const satisfies readonly (keyof Policy)[];
