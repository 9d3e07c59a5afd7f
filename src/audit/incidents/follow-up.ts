import { assertSame, type ReadVersion } from "../../assignment/version.js";
import { InputError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import type { IncidentState } from "./rows.js";
import { type Concerned, ended, stepOf } from "./steps.js";

interface Open extends Concerned {
	readonly state: IncidentState;
	readonly lookedIntoBy: string | null;
}

/** What people do about an incident: somebody takes it up, notes what was found, and closes it with the reason. */
export class FollowUp {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @returns the tag of what stands about it; each step makes it another */
	tagOf(id: string): Promise<string> {
		return tagIn(this.store, id);
	}

	/**
	 * Somebody has begun to look into it; said again by herself it changes nothing.
	 * @throws InputError `unknown-subject` (404); `conflict` where it is closed (409), or something was done since it was read (412)
	 */
	lookInto(id: string, byPersonId: string | null, read: ReadVersion = "any"): Promise<void> {
		return this.store.work.run(async (tx) => {
			const incident = await notClosed(tx, id);
			if (incident.state === "looked into" && (read === "any" || incident.lookedIntoBy === byPersonId)) return;
			await assertAsRead(tx, id, read);
			const atMs = this.clock.nowMs();
			await tx.affected("UPDATE incident SET state = 'looked into', looked_into_at_ms = $2, looked_into_by = $3 WHERE id = $1", [
				id,
				atMs,
				byPersonId,
			]);
			const actor = byPersonId ?? "office";
			await stepOf(tx, this.ids, incident, { action: "incident looked into", actor, atMs, detail: {} });
		});
	}

	/** Adds what was found to its time line. @throws InputError as `lookInto` */
	note(id: string, note: string, byPersonId: string | null, read: ReadVersion = "any"): Promise<void> {
		return this.store.work.run(async (tx) => {
			const incident = await notClosed(tx, id);
			await assertAsRead(tx, id, read);
			const [actor, atMs] = [byPersonId ?? "office", this.clock.nowMs()];
			await stepOf(tx, this.ids, incident, { action: "incident noted", actor, atMs, detail: { note } });
		});
	}

	/** @throws InputError as `lookInto` */
	close(id: string, because: string, byPersonId: string | null, read: ReadVersion = "any"): Promise<void> {
		return this.store.work.run(async (tx) => {
			const incident = await notClosed(tx, id);
			await assertAsRead(tx, id, read);
			const actor = byPersonId ?? "office";
			await ended(tx, this.ids, incident, { because, byPersonId, actor, atMs: this.clock.nowMs() });
		});
	}
}

async function notClosed(tx: Transaction, id: string): Promise<Open> {
	const [incident] = await tx.query<Open>(
		`SELECT id, area_id, state, looked_into_by FROM incident WHERE id = $1${tx.kind === "postgres" ? " FOR UPDATE" : ""}`,
		[id],
	);
	if (!incident) throw new InputError("unknown-subject", "There is no such incident.", { status: 404 });
	if (incident.state !== "closed") return incident;
	throw new InputError("conflict", "The incident is closed already; nothing was changed.", { status: 409 });
}

async function assertAsRead(tx: Transaction, id: string, read: ReadVersion): Promise<void> {
	if (read !== "any") assertSame(read, await tagIn(tx, id), "The incident");
}

/** Every step adds an entry to the ledger: their number tells whether anything was done since. */
async function tagIn(from: Pick<Transaction, "query">, id: string): Promise<string> {
	const [steps] = await from.query<{ number: number | string }>(
		"SELECT COUNT(*) AS number FROM ledger_entry WHERE subject_kind = 'incident' AND subject_id = $1",
		[id],
	);
	return String(steps?.number ?? 0);
}
