import { record } from "../ledger/ledger.js";
import type { NewMessage } from "../messages/outbox.js";
import { post, type Wake } from "../messages/wake.js";
import { currentPolicy } from "../programme/policy.js";
import type { Forecast } from "../stock/forecast.js";
import { refreshForecasts } from "../stock/forecasts.js";
import type { Calendars } from "../stock/places.js";
import { roundedFigures } from "../stock/rounded-figures.js";
import { placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";
import { unfitEntries } from "./unfit.js";

/** Jars of one unit of work: some tenths of a second, in which others wait. */
const PAGE = 25;

interface StaleJar {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly keeperId: string | null;
	readonly sinceMs: number;
	readonly because: string;
	readonly forecast: string | null;
}

/** Makes forecasts anew that were made by rules or a climate that hold no more, a page at a time. */
export class ForecastsAnew {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly calendars: Calendars,
		private readonly wake: Wake,
	) {}

	/**
	 * @param goesOn asked after each page
	 * @returns how many forecasts were made; at least one page where there is one
	 */
	async work(goesOn: () => boolean): Promise<number> {
		let made = 0;
		for (;;) {
			const page = await this.store.work.run((tx) => this.page(tx));
			made += page;
			if (page < PAGE || !goesOn()) return made;
		}
	}

	private async page(tx: Transaction): Promise<number> {
		const nowMs = this.clock.nowMs();
		const lock = tx.kind === "postgres" ? "FOR UPDATE OF s SKIP LOCKED" : "";
		const jars = await tx.query<StaleJar>(
			`SELECT b.id, b.code, b.area_id, b.keeper_id, b.forecast, s.since_ms, s.because FROM forecast_stale s JOIN batch b ON b.id = s.batch_id
			 ORDER BY s.since_ms LIMIT ${PAGE} ${lock}`,
		);
		if (jars.length === 0) return 0;
		const jarIds = jars.map(({ id }) => id);
		const policy = await currentPolicy(tx);
		const forecasts = await refreshForecasts(tx, this.calendars, jarIds, policy, nowMs);
		await tx.affected(`DELETE FROM forecast_stale WHERE batch_id IN (${placeholders(jarIds.length)})`, jarIds);
		await record(tx, this.ids, unfitEntries(jars, forecasts.unfit, nowMs));
		await this.tell(tx, jars, forecasts, nowMs, policy.urgentBreaksQuietHours);
		const [left] = await tx.query("SELECT batch_id FROM forecast_stale LIMIT 1");
		const entry = {
			atMs: nowMs,
			actor: "sweep",
			action: "forecasts made anew",
			subjectKind: "programme",
			subjectId: "programme",
		};
		if (!left) await record(tx, this.ids, [{ ...entry, detail: { because: jars.at(-1)?.because, sinceMs: jars[0]?.sinceMs } }]);
		return jars.length;
	}

	/** By the new rules a jar may be too weak that was told to be good: its keeper doses by what she was told last. */
	private async tell(
		tx: Transaction,
		jars: readonly StaleJar[],
		forecasts: ReadonlyMap<string, Forecast>,
		nowMs: number,
		atOnce: boolean,
	): Promise<void> {
		const spoilt = jars.flatMap((jar) => {
			const forecast = forecasts.get(jar.id);
			const before = (JSON.parse(jar.forecast ?? "{}") as Partial<Forecast>).verdict;
			return forecast && isOver(forecast.verdict) && before && !isOver(before) ? [{ jar, forecast }] : [];
		});
		if (spoilt.length === 0) return;
		const people = await reachablePeople(
			tx,
			spoilt.flatMap(({ jar }) => jar.keeperId ?? []),
		);
		const messages = spoilt.flatMap(({ jar, forecast }): NewMessage[] => {
			const keeper = people.get(jar.keeperId ?? "");
			if (!keeper) return [];
			return [
				{
					id: this.ids.next(),
					idempotencyKey: `anew.${jar.id}.${jar.sinceMs}`,
					taskId: null,
					recipientId: keeper.id,
					text: "jar.weak",
					fill: { jar: jar.code, ...roundedFigures(forecast) },
					urgent: true,
					createdAtMs: nowMs,
					notBeforeMs: atOnce ? nowMs : notBeforeMs(keeper, nowMs),
				},
			];
		});
		await post(tx, this.wake, messages);
	}
}

function isOver(verdict: Forecast["verdict"]): boolean {
	return verdict === "weak" || verdict === "too old";
}
