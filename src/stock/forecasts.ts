import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import { placeholders, valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DISCARD, RETEST, stockChanged } from "./due-work.js";
import { DOSES_CLOUDY, endOfUse } from "./end-of-use.js";
import { type Forecast, forecastOf } from "./forecast.js";
import { attempted, type JarRow, jarFacts, jarRows, type Unfit } from "./jar-facts.js";
import type { Calendars } from "./places.js";

/** The forecasts that were made, by jar. */
export interface Refreshed extends ReadonlyMap<string, Forecast> {
	/** By jar: why there is none. */
	readonly unfit: ReadonlyMap<string, string>;
}

/** How many jars are forecast between two statements. */
const PAGE = 200;

/**
 * Forecasts jars anew after a fact about them has changed, keeps the forecasts with them and sets when each is next due,
 * in the unit of work that changed the fact.
 * @returns the forecasts by jar. A jar that the models don't take keeps the forecast it had, if any, and isn't due again until
 * a fact changes; `unfit` tells why.
 */
export async function refreshForecasts(
	tx: Transaction,
	calendars: Calendars,
	batchIds: readonly string[],
	policy: Policy,
	nowMs: number,
): Promise<Refreshed> {
	const made = new Map<string, Forecast>();
	const unfit: Unfit = new Map();
	for (let from = 0; from < batchIds.length; from += PAGE) {
		const rows = await jarRows(tx, batchIds.slice(from, from + PAGE));
		const facts = await jarFacts(tx, calendars, rows, unfit);
		const forecasts = rows.flatMap((row) => {
			const of = facts.get(row.id);
			if (!of || row.state === "discarded" || row.state === "empty") return [];
			const forecast = attempted(row.id, unfit, () => forecastOf(of, policy, nowMs));
			return forecast ? [{ row, forecast }] : [];
		});
		const none = rows.filter(({ id }) => unfit.has(id));
		await setDue(
			tx,
			none.map(({ id, areaId }) => ({ kind: RETEST, subjectId: id, areaId, dueAtMs: null })),
		);
		if (forecasts.length === 0) continue;
		const { text, parameters } = valuesOf(
			forecasts.map(({ row, forecast }) => [row.id, JSON.stringify(forecast), forecast.retestAtMs === null ? "weak" : "in use"]),
		);
		await tx.affected(
			`UPDATE batch SET forecast = v.column2, state = v.column3 FROM (VALUES ${text}) AS v WHERE batch.id = v.column1`,
			parameters,
		);
		await setDue(
			tx,
			forecasts.map(({ row, forecast }) => ({
				kind: RETEST,
				subjectId: row.id,
				areaId: row.areaId,
				dueAtMs: forecast.retestAtMs,
			})),
		);
		await keepEndsOfUse(tx, forecasts, policy, nowMs);
		await stockChanged(
			tx,
			forecasts.map(({ row }) => row.id),
			nowMs,
		);
		for (const { row, forecast } of forecasts) made.set(row.id, forecast);
	}
	return Object.assign(made, { unfit });
}

/** Sets when jars are to be set aside or poured away; one for which that isn't in sight gets no row. */
async function keepEndsOfUse(
	tx: Transaction,
	forecasts: readonly { readonly row: JarRow; readonly forecast: Forecast }[],
	policy: Policy,
	nowMs: number,
): Promise<void> {
	const cloudy = await tx.query<{ id: string }>(
		`SELECT b.id FROM batch b WHERE ${DOSES_CLOUDY} AND b.id IN (${placeholders(forecasts.length)})`,
		forecasts.map(({ row }) => row.id),
	);
	const dosesCloudy = new Set(cloudy.map(({ id }) => id));
	const ends = forecasts.map(({ row, forecast }) => {
		const { madeStrengthGPerL, setAsideUntilMs = null } = row;
		const jar = { madeStrengthGPerL, setAsideUntilMs, forecast, dosesCloudy: dosesCloudy.has(row.id) };
		return { row, end: endOfUse(jar, nowMs, policy) };
	});
	await setDue(
		tx,
		ends.flatMap(({ row, end }) => (end ? [{ kind: DISCARD, subjectId: row.id, areaId: row.areaId, dueAtMs: end.dueAtMs }] : [])),
	);
	const none = ends.flatMap(({ row, end }) => (end ? [] : [row.id]));
	if (none.length === 0) return;
	// Where a task is open, the sweep looks whether it is still work.
	await tx.affected(`UPDATE due SET due_at_ms = $1 WHERE kind = $2 AND subject_id IN (${placeholders(none.length, 3)})`, [
		nowMs,
		DISCARD,
		...none,
	]);
}
