import { currentPolicy } from "../../programme/policy.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { type Clock, HOUR_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import type { Cause, IncidentKind, OpenIncident, Window } from "./incident-kind.js";
import { ended, stepOf } from "./steps.js";

/** What was written by a unit of work that ended late is looked at once more. */
const OVERLAP_MS = HOUR_MS;
/** What had happened before anybody looked isn't dug up: a programme that begins with years of records would drown in it. */
const FIRST_LOOK_MS = 24 * HOUR_MS;
const PAGE = 500;

/** Opens incidents from what is on record, and closes them by what came in since. */
export class Incidents {
	private readonly byName: ReadonlyMap<string, IncidentKind>;

	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly kinds: readonly IncidentKind[],
	) {
		this.byName = new Map(kinds.map((kind) => [kind.name, kind]));
	}

	named(kind: string): IncidentKind | undefined {
		return this.byName.get(kind);
	}

	/** @returns how many were opened */
	async look(): Promise<number> {
		let opened = 0;
		for (const kind of this.kinds) opened += await this.store.work.run((tx) => this.lookFor(tx, kind));
		return opened;
	}

	private async lookFor(tx: Transaction, kind: IncidentKind): Promise<number> {
		const nowMs = this.clock.nowMs();
		const [last] = await tx.query<{ untilMs: number }>(
			`SELECT until_ms FROM incident_look WHERE kind = $1${tx.kind === "postgres" ? " FOR UPDATE" : ""}`,
			[kind.name],
		);
		const sinceMs = last ? last.untilMs - OVERLAP_MS : nowMs - FIRST_LOOK_MS;
		const window: Window = { sinceMs, nowMs, policy: await currentPolicy(tx) };
		const opened = await this.open(tx, kind, await kind.causes(tx, window), nowMs);
		await this.closeSettled(tx, kind, window);
		await tx.query(
			"INSERT INTO incident_look (kind, until_ms) VALUES ($1, $2) ON CONFLICT (kind) DO UPDATE SET until_ms = excluded.until_ms",
			[kind.name, nowMs],
		);
		return opened;
	}

	/** One cause, or one subject whose incident is still open, is never opened twice. */
	private async open(tx: Transaction, kind: IncidentKind, causes: readonly Cause[], nowMs: number): Promise<number> {
		let opened = 0;
		for (const { causeId, subjectId, areaId, happenedAtMs, found } of causes) {
			const id = this.ids.next();
			const rows = await tx.query(
				`INSERT INTO incident (id, kind, cause_id, subject_kind, subject_id, area_id, happened_at_ms, opened_at_ms, state, found)
				 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 'open', $9) ON CONFLICT DO NOTHING RETURNING id`,
				[id, kind.name, causeId, kind.subjectKind, subjectId, areaId, happenedAtMs, nowMs, JSON.stringify(found)],
			);
			if (rows.length === 0) continue;
			opened++;
			await stepOf(
				tx,
				this.ids,
				{ id, areaId },
				{ action: "incident opened", actor: "audit", atMs: nowMs, detail: { kind: kind.name, ...found } },
			);
		}
		return opened;
	}

	private async closeSettled(tx: Transaction, kind: IncidentKind, window: Window): Promise<void> {
		for (let after = ""; ; ) {
			const rows = await tx.query<Omit<OpenIncident, "found"> & { found: string }>(
				`SELECT id, cause_id, subject_id, area_id, happened_at_ms, opened_at_ms, found FROM incident
				 WHERE kind = $1 AND state <> 'closed' AND id > $2 ORDER BY id LIMIT ${PAGE}`,
				[kind.name, after],
			);
			const last = rows.at(-1);
			if (!last) return;
			after = last.id;
			const open = rows.map((row): OpenIncident => ({ ...row, found: JSON.parse(row.found) as OpenIncident["found"] }));
			const byId = new Map(open.map((incident) => [incident.id, incident]));
			for (const { id, because } of await kind.settled(tx, open, window)) {
				const incident = byId.get(id);
				if (incident) await ended(tx, this.ids, incident, { because, byPersonId: null, actor: "audit", atMs: window.nowMs });
			}
		}
	}
}
