import type { NewMessage } from "../messages/outbox.js";
import { post, type Wake } from "../messages/wake.js";
import { currentPolicy } from "../programme/policy.js";
import { doseWasTold } from "../stock/dose-told.js";
import type { Forecast } from "../stock/forecast.js";
import type { Calendars } from "../stock/places.js";
import { roundedFigures } from "../stock/rounded-figures.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { localDateOf } from "../time/local.js";
import { jarStrengthAt } from "../water/jar-strength.js";
import { keeperDoseLine } from "../water/keeper-doses.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";

/** Jars of one unit of work. */
const PAGE = 100;

interface DueJar {
	readonly id: string;
	readonly code: string;
	readonly keeperId: string | null;
	readonly isInUse: boolean | number;
	readonly forecast: string | null;
	readonly timeZone: string;
}

/** Between two tests a jar goes on ageing: its keeper is told the doses by what is believed of it now. */
export class DoseNews {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly calendars: Calendars,
		private readonly wake: Wake,
	) {}

	/** @returns to how many jars' keepers it was told */
	async tell(): Promise<number> {
		for (let told = 0; ; ) {
			const [due] = await this.store.query("SELECT batch_id FROM dose_told WHERE due_at_ms <= $1 LIMIT 1", [this.clock.nowMs()]);
			if (!due) return told;
			told += await this.store.work.run((tx) => this.page(tx));
		}
	}

	private async page(tx: Transaction): Promise<number> {
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(tx);
		const lock = tx.kind === "postgres" ? "FOR UPDATE OF d SKIP LOCKED" : "";
		const jars = await tx.query<DueJar>(
			`SELECT b.id, b.code, b.keeper_id, (b.state = 'in use' AND b.set_aside_until_ms IS NULL) AS is_in_use, b.forecast, a.time_zone
			 FROM dose_told d JOIN batch b ON b.id = d.batch_id JOIN area a ON a.id = b.area_id WHERE d.due_at_ms <= $1 ORDER BY d.due_at_ms, b.id LIMIT ${PAGE} ${lock}`,
			[nowMs],
		);
		const people = await reachablePeople(
			tx,
			jars.flatMap(({ keeperId }) => keeperId ?? []),
		);
		const messages: NewMessage[] = [];
		for (const jar of jars) {
			const forecast = jar.forecast === null ? undefined : (JSON.parse(jar.forecast) as Forecast);
			const person = people.get(jar.keeperId ?? "");
			const known = await jarStrengthAt(tx, this.calendars, jar.id, policy, nowMs);
			const isOver = !jar.isInUse || !forecast || forecast.contradiction !== null || forecast.retestAtMs === null;
			if (isOver || !person || !known) {
				// A test or another keeper begins it anew.
				await tx.affected("UPDATE dose_told SET due_at_ms = NULL WHERE batch_id = $1", [jar.id]);
				continue;
			}
			const doses = await keeperDoseLine(tx, jar.id, known.strength, policy, nowMs);
			if (doses === undefined) {
				await tx.affected("UPDATE dose_told SET due_at_ms = $2 WHERE batch_id = $1", [jar.id, nowMs + DAY_MS]);
				continue;
			}
			await doseWasTold(tx, jar.id, known.strength.medianGPerL, forecast, policy, nowMs);
			const nextTestOn = localDateOf(Math.max(nowMs, forecast.retestAtMs ?? nowMs), jar.timeZone);
			messages.push({
				...{ id: this.ids.next(), idempotencyKey: `dose.${jar.id}.${nowMs}`, taskId: null, recipientId: person.id },
				...{ text: "dose.told", fill: { jar: jar.code, ...roundedFigures({ now: known.strength }), doses, nextTestOn } },
				...{ urgent: false, createdAtMs: nowMs, notBeforeMs: notBeforeMs(person, nowMs) },
			});
		}
		await post(tx, this.wake, messages);
		return messages.length;
	}
}
