import { onceADayMs, reachablePeople } from "../../duties/reachable.js";
import { areaSupervisors } from "../../duties/stand-in.js";
import { textOf } from "../../messages/texts.js";
import type { Wake } from "../../messages/wake.js";
import { post } from "../../messages/wake.js";
import { currentPolicy } from "../../programme/policy.js";
import { among } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
import type { Incidents } from "./incidents.js";

/** One text names so many; the rest is counted. */
const MOST_NAMED = 5;

interface Untold {
	readonly id: string;
	readonly kind: string;
	readonly areaId: string;
	readonly found: string;
}

/** Tells each supervisor once a day which incidents are new; what can't wait she was told at once, by the fact itself. */
export class IncidentTelling {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly incidents: Incidents,
		private readonly wake: Wake,
	) {}

	/** @returns how many people are told */
	tell(): Promise<number> {
		return this.store.work.run((tx) => this.tellNew(tx));
	}

	private async tellNew(tx: Transaction): Promise<number> {
		const lock = tx.kind === "postgres" ? " FOR UPDATE SKIP LOCKED" : "";
		const untold = await tx.query<Untold>(
			`SELECT id, kind, area_id, found FROM incident WHERE told_at_ms IS NULL ORDER BY opened_at_ms, id LIMIT 1000${lock}`,
			[],
		);
		if (untold.length === 0) return 0;
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(tx);
		const supervisorOf = await areaSupervisors(
			tx,
			untold.map(({ areaId }) => areaId),
		);
		const people = await reachablePeople(tx, [...supervisorOf.values()]);
		let told = 0;
		for (const person of people.values()) {
			const hers = untold.filter(({ areaId }) => supervisorOf.get(areaId) === person.id);
			const key = `incidents.${person.id}.${localDateOf(nowMs, person.timeZone)}`;
			const isFirstToday = (await tx.query("SELECT 1 AS one FROM message WHERE idempotency_key = $1", [key])).length === 0;
			if (hers.length === 0 || !isFirstToday) continue;
			const line = ({ kind, found }: Untold) => {
				const { about = "-" } = JSON.parse(found) as { about?: string };
				const name = this.incidents.named(kind)?.text;
				return name ? textOf(name, { about }, person.language, policy.language).text : `${kind} ${about}`;
			};
			const lines = hers.slice(0, MOST_NAMED).map(line).join("; ") + (hers.length > MOST_NAMED ? "; ..." : "");
			await post(tx, this.wake, [
				{
					id: this.ids.next(),
					idempotencyKey: key,
					taskId: null,
					recipientId: person.id,
					text: "incident.new.supervisor",
					fill: { count: hers.length, lines },
					urgent: false,
					createdAtMs: nowMs,
					notBeforeMs: onceADayMs(person, policy.messages.lateAt, nowMs),
				},
			]);
			await tx.affected(`UPDATE incident SET told_at_ms = $1 WHERE id ${among(tx.kind, "$2")}`, [
				nowMs,
				hers.map(({ id }) => id),
			]);
			told++;
		}
		return told;
	}
}
