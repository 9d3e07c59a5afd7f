import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { withdrawMessages } from "../messages/outbox.js";
import { takeBackConsent } from "../programme/consent.js";
import { Blind } from "../store/sealing/blind.js";
import { blindOfColumn } from "../store/sealing/envelope.js";
import { among } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { renamed, WITH_NAMES } from "./names-in-json.js";
import { type HeldPerson, personWithCode } from "./people.js";

/** How much was cleared of what. */
export type Cleared = Readonly<Record<string, number>>;

/** Erases what is held about a person, at her request or because its time is over; codes and figures stay, so that every count does too. */
export class Erasure {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/**
	 * Stopped in the middle, it is simply asked for again: her name goes last.
	 * @param actor a person's id, or the part of the program that acts
	 * @throws InputError `unknown-subject`; `conflict` (409) while work is still hers
	 */
	async erase(code: string, actor: string): Promise<Cleared> {
		const person = await personWithCode(this.store, code);
		await this.refuseWithWork(person);
		const { name } = person;
		const word = (other: string) => (other === name ? person.code : other);
		let names = 0;
		if (name !== "")
			for (const where of WITH_NAMES) names += await renamed(this.store, where, { text: "true", parameters: [] }, word);
		const answers = await this.clearAnswers(person);
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const cleared = { names, answers, ...(await this.clearPerson(tx, person, nowMs)) };
			await record(tx, this.ids, [
				{
					atMs: nowMs,
					actor,
					action: "person erased",
					subjectKind: "person",
					subjectId: person.id,
					areaId: person.areaId,
					detail: { code: person.code, ...cleared },
				},
			]);
			return cleared;
		});
	}

	private async refuseWithWork({ id, code }: HeldPerson): Promise<void> {
		const counts = await this.store.query<{ what: string; number: number | string }>(
			`SELECT 'households' AS what, count(*) AS number FROM household WHERE volunteer_id = $1
			 UNION ALL SELECT 'open tasks', count(*) FROM task WHERE assignee_id = $1 AND state = 'open'
			 UNION ALL SELECT 'people whom she supervises', count(*) FROM person WHERE supervisor_id = $1 AND active`,
			[id],
		);
		const hers = counts.filter(({ number }) => Number(number) > 0).map(({ what, number }) => `${number} ${what}`);
		if (hers.length === 0) return;
		throw new InputError(
			"conflict",
			`${code} still has ${hers.join(", ")}: give them to somebody else first (POST /people/{code}/hand-over with the reason "left"), then erase.`,
			{ status: 409 },
		);
	}

	/** Answers that are kept for repeated requests may show her; they are told again without their words. */
	private async clearAnswers({ name, phoneE164, email }: HeldPerson): Promise<number> {
		const texts = [name, phoneE164, email].filter((text): text is string => Boolean(text));
		const rows = await this.store.query<{ id: string; answer: string }>(
			"SELECT id, answer FROM idempotency_key WHERE answer <> ''",
		);
		const shown = rows.filter(({ answer }) => texts.some((text) => answer.includes(JSON.stringify(text).slice(1, -1))));
		await this.store.work.run((tx) =>
			tx.each(
				"UPDATE idempotency_key SET answer = $2 WHERE id = $1",
				shown.map(({ id }) => [id, "null"]),
			),
		);
		return shown.length;
	}

	private async clearPerson(tx: Transaction, person: HeldPerson, nowMs: number): Promise<Cleared> {
		const { id, phoneE164, email } = person;
		const addresses = [phoneE164, email].filter((text): text is string => Boolean(text));
		let texts = await tx.affected(
			"UPDATE reply SET body = '', from_address = '' WHERE person_id = $1 AND (body <> '' OR from_address <> '')",
			[id],
		);
		for (const address of addresses)
			texts += await tx.affected(
				`UPDATE reply SET body = '', from_address = '' WHERE ${blindOfColumn("from_address")} ${among(tx.kind, "$1")}`,
				[new Blind("address", address)],
			);
		await withdrawMessages(tx, "recipient_id", [id], nowMs);
		const hers = "message_id IN (SELECT id FROM message WHERE recipient_id = $1)";
		const reasons =
			(await tx.affected(`UPDATE message_failure SET reason = '' WHERE reason <> '' AND ${hers}`, [id])) +
			(await tx.affected(`UPDATE message_receipt SET reason = NULL WHERE reason IS NOT NULL AND ${hers}`, [id]));
		for (const purpose of ["messages", "records"] as const) await takeBackConsent(tx, id, purpose, "by message", nowMs);
		const browsers = await tx.affected("DELETE FROM push_subscription WHERE person_id = $1", [id]);
		const calendars = await tx.affected("DELETE FROM calendar_feed WHERE person_id = $1", [id]);
		await tx.affected("UPDATE volunteer_capacity SET latitude_deg = NULL, longitude_deg = NULL WHERE person_id = $1", [id]);
		await clearSignIn(tx, id);
		await tx.affected(
			`UPDATE person SET name = '', phone_e164 = NULL, email = NULL, channels = '[]', active = $2, erased_at_ms = COALESCE(erased_at_ms, $3) WHERE id = $1`,
			[id, false, nowMs],
		);
		return { texts, reasons, browsers, calendars };
	}
}

async function clearSignIn(tx: Transaction, personId: string): Promise<void> {
	const accounts = "account_id IN (SELECT id FROM account WHERE person_id = $1)";
	await tx.affected(`DELETE FROM session WHERE person_id = $1 OR ${accounts}`, [personId]);
	await tx.affected("DELETE FROM sign_in_code WHERE person_id = $1", [personId]);
	for (const table of ["recovery_code", "account_link", "known_device"])
		await tx.affected(`DELETE FROM ${table} WHERE ${accounts}`, [personId]);
	await tx.affected(
		"UPDATE account SET login = 'erased.' || id, password_hash = NULL, totp_secret = NULL, active = $2 WHERE person_id = $1",
		[personId, false],
	);
}
