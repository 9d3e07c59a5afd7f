import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { withdrawMessages } from "../messages/outbox.js";
import { takeBackConsent } from "../programme/consent.js";
import type { ConsentManner, ConsentPurpose, ConsentRow } from "../programme/consent-rows.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { personWithCode } from "./people.js";

/** A consent as it is told to the program. */
export interface GivenConsent {
	readonly purpose: ConsentPurpose;
	readonly textVersion: string;
	readonly obtained: ConsentManner;
	readonly givenAtMs: number;
}

/** What people have consented to. */
export class Consents {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @returns a person's consents, the first one first, those that were taken back among them */
	async of(code: string): Promise<ConsentRow[]> {
		const { id } = await personWithCode(this.store, code);
		return this.store.query<ConsentRow>("SELECT * FROM consent WHERE person_id = $1 ORDER BY given_at_ms, id", [id]);
	}

	/**
	 * Records a consent. One to messages lifts an earlier "stop": she wants to be written to again. A newer one takes the place of the one
	 * that holds; the same again changes nothing.
	 * @throws InputError `unknown-subject`; `time-in-future`; `conflict` where she has been erased
	 */
	give(code: string, given: GivenConsent): Promise<void> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			refuseFuture(given.givenAtMs, nowMs, "/givenAt");
			const person = await personWithCode(tx, code);
			if (person.erasedAtMs !== null) throw new InputError("conflict", "This person has been erased.", { status: 409 });
			if (given.purpose === "messages" && (person.optedOutAtMs ?? -1) >= given.givenAtMs)
				throw new InputError(
					"conflict",
					"She has asked not to be written to since she gave this consent: only one that she gave afterwards lifts that.",
					{ status: 409, problems: [{ at: "/givenAt", message: "must be later than when she asked not to be written to" }] },
				);
			const [held] = await tx.query<ConsentRow>(
				"SELECT * FROM consent WHERE person_id = $1 AND purpose = $2 AND withdrawn_at_ms IS NULL",
				[person.id, given.purpose],
			);
			if (held && held.textVersion === given.textVersion && held.givenAtMs >= given.givenAtMs) return;
			await tx.affected("UPDATE consent SET withdrawn_at_ms = $2, withdrawn_by = $3 WHERE id = $1", [
				held?.id ?? "",
				given.givenAtMs,
				given.obtained,
			]);
			await tx.affected(
				"INSERT INTO consent (id, person_id, purpose, text_version, obtained, given_at_ms, recorded_at_ms) VALUES ($1, $2, $3, $4, $5, $6, $7)",
				[this.ids.next(), person.id, given.purpose, given.textVersion, given.obtained, given.givenAtMs, nowMs],
			);
			if (given.purpose === "messages")
				await tx.affected("UPDATE person SET consented_at_ms = $2, opted_out_at_ms = NULL WHERE id = $1", [
					person.id,
					given.givenAtMs,
				]);
			await this.record(tx, person, "consent given", nowMs, { ...given });
		});
	}

	/**
	 * Records that a consent was taken back; without one to messages nothing goes out to her any more, as after "stop".
	 * @throws InputError `unknown-subject`
	 */
	takeBack(code: string, purpose: ConsentPurpose, by: ConsentManner): Promise<void> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const person = await personWithCode(tx, code);
			const wasGiven = await takeBackConsent(tx, person.id, purpose, by, nowMs);
			if (purpose === "messages") await withdrawMessages(tx, "recipient_id", [person.id], nowMs);
			await this.record(tx, person, "consent taken back", nowMs, { purpose, by, wasGiven });
		});
	}

	private record(
		tx: Transaction,
		person: { id: string; areaId: string },
		action: string,
		atMs: number,
		detail: object,
	): Promise<void> {
		const about = { subjectKind: "person", subjectId: person.id, areaId: person.areaId };
		return record(tx, this.ids, [{ atMs, actor: "office", action, ...about, detail: { ...detail } }]);
	}
}
