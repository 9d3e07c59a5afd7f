import { phoneAddressOf } from "../messages/inbound/incoming.js";
import { post, type Wake } from "../messages/wake.js";
import { Blind } from "../store/sealing/blind.js";
import { blindOfColumn } from "../store/sealing/envelope.js";
import { among } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, MINUTE_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { hashed, matches } from "./passwords.js";
import { newDigits } from "./secrets.js";
import type { Sessions } from "./sessions.js";
import type { SignedIn } from "./sign-in.js";
import type { Throttle } from "./throttle.js";

/** Source: OWASP ASVS 5.0.0 (2025), 6.5.4 and 6.5.5: 20 bits or more, ten minutes at most */
const DIGITS = 6;
const LASTS_MINUTES = 10;
/** Wrong ones that one code stands. */
const MOST_TRIES = 5;

/** Signs volunteers in by a code that is sent to their phones. Nothing tells whose number is known. */
export class SignInByCode {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly sessions: Sessions,
		private readonly throttle: Throttle,
		private readonly wake: Wake,
	) {}

	/**
	 * Sends a code to each volunteer who has the number; the one before ends.
	 * @param toWhom a phone number with its country, or a volunteer's own code
	 * @returns how long to wait, where too many were asked for: the same for a number that nobody has
	 */
	async ask(toWhom: string, address: string): Promise<{ waitMs: number }> {
		const called = calledBy(toWhom);
		const waitMs = await this.throttle.triedAll(["address", address], ["codesAsked", called], ["codesAskedADay", called]);
		if (waitMs > 0) return { waitMs };
		const people = await this.volunteers(this.store, called);
		// The same work is done for a number that nobody has, so that the time tells nothing either.
		const codes = await Promise.all(
			(people.length > 0 ? people : ["nobody"]).map(async () => {
				const code = newDigits(DIGITS);
				return { code, hash: await hashed(code) };
			}),
		);
		await this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			await forgetCodes(tx, "ends_at_ms < $1", nowMs);
			for (const [i, personId] of people.entries()) await this.send(tx, personId, codes[i]!, nowMs);
		});
		return { waitMs: 0 };
	}

	/** Begins a session where the code is right; a code is taken once. */
	async enter(toWhom: string, code: string, address: string, device: string | undefined): Promise<SignedIn> {
		const called = calledBy(toWhom);
		const waitMs = await this.throttle.triedAll(["address", address], ["codesTried", called]);
		if (waitMs > 0) return { state: "wait", waitMs };
		const typed = code.replace(/[\s-]/g, "");
		const right = await this.rightOne(await this.volunteers(this.store, called), typed);
		if (!right) return { state: "wrong" };
		return this.store.work.run(async (tx): Promise<SignedIn> => {
			if ((await forgetCodes(tx, "id = $1", right.id)) === 0) return { state: "wrong" };
			const { secret, endsAtMs } = await this.sessions.begin(tx, { personId: right.personId }, device);
			return { state: "signed in", accountId: null, secret, endsAtMs };
		});
	}

	private async send(tx: Transaction, personId: string, { code, hash }: { code: string; hash: string }, nowMs: number) {
		await forgetCodes(tx, "person_id = $1", personId);
		const messageId = this.ids.next();
		await tx.affected(
			"INSERT INTO sign_in_code (id, person_id, code_hash, message_id, tries, made_at_ms, ends_at_ms) VALUES ($1, $2, $3, $4, 0, $5, $6)",
			[this.ids.next(), personId, hash, messageId, nowMs, nowMs + LASTS_MINUTES * MINUTE_MS],
		);
		const common = { id: messageId, idempotencyKey: `sign-in ${messageId}`, taskId: null, recipientId: personId, urgent: true };
		const fill = { oneTimeCode: code, minutes: LASTS_MINUTES };
		await post(tx, this.wake, [{ ...common, text: "signIn.code", fill, createdAtMs: nowMs, notBeforeMs: nowMs }]);
	}

	/** Each code that may still be tried counts the try before it is looked at. */
	private async rightOne(people: readonly string[], typed: string): Promise<{ id: string; personId: string } | undefined> {
		let right: { id: string; personId: string } | undefined;
		let looked = 0;
		for (const personId of people) {
			const [open] = await this.store.work.run((tx) =>
				tx.query<{ id: string; codeHash: string }>(
					"UPDATE sign_in_code SET tries = tries + 1 WHERE person_id = $1 AND ends_at_ms > $2 AND tries < $3 RETURNING id, code_hash",
					[personId, this.clock.nowMs(), MOST_TRIES],
				),
			);
			if (!open) continue;
			looked++;
			if (await matches(open.codeHash, typed)) right ??= { id: open.id, personId };
		}
		if (looked === 0) await matches(null, typed);
		return right;
	}

	/** Several may share one phone. */
	private async volunteers(from: Pick<Store, "query">, called: string): Promise<string[]> {
		const phone = `${blindOfColumn("phone_e164")} ${among(this.store.kind, "$1")}`;
		const rows = await from.query<{ id: string }>(
			`SELECT id FROM person WHERE (${phone} OR code = $2) AND role = 'volunteer' AND active
			 AND (phone_e164 IS NOT NULL OR email IS NOT NULL) ORDER BY code LIMIT 20`,
			[new Blind("address", called), called],
		);
		return rows.map(({ id }) => id);
	}
}

function calledBy(toWhom: string): string {
	return phoneAddressOf(toWhom.trim());
}

/** What stands in a text once its code is used or over. */
const NO_CODE = JSON.stringify({ oneTimeCode: "-", minutes: 0 });

/** Takes codes away, and out of the texts that told of them. @returns how many */
async function forgetCodes(tx: Transaction, which: string, value: string | number): Promise<number> {
	const told = `SELECT message_id FROM sign_in_code WHERE ${which}`;
	await tx.affected(`UPDATE message SET fill = $2 WHERE state IN ('sent', 'failed', 'withdrawn', 'stale') AND id IN (${told})`, [
		value,
		NO_CODE,
	]);
	return tx.affected(`DELETE FROM sign_in_code WHERE ${which}`, [value]);
}
