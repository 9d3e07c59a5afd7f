import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { actorOfAccount, changeOf } from "./account.js";
import type { AccountRow } from "./rows.js";
import { hashOf, newLetters } from "./secrets.js";
import { newTotpSecret, takeStep, totpAddress, totpStepOf } from "./totp.js";

const RECOVERY_CODES = 10;
/** 25 letters and digits of 31: 123 bits, so that a plain hash of one says nothing. Source: OWASP ASVS 5.0.0 (2025), 6.5.2 */
const RECOVERY_LETTERS = 25;

/** Codes of an authenticator app beside the password, and codes on paper for the day on which it is lost. */
export class SecondFactor {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** Gives a new secret, which counts once a code of it has been shown. @throws InputError `conflict` where one is in use */
	async prepare(account: AccountRow): Promise<{ secret: string; address: string }> {
		if (account.totpSinceMs !== null) throw alreadyOn();
		const secret = newTotpSecret();
		await this.store.work.run((tx) =>
			tx.affected("UPDATE account SET totp_secret = $2 WHERE id = $1 AND totp_since_ms IS NULL", [account.id, secret]),
		);
		return { secret, address: totpAddress(secret, account.login) };
	}

	/** @returns codes that each stand in once, told this once @throws InputError where the code isn't one of the prepared secret */
	confirm(account: AccountRow, code: string): Promise<string[]> {
		return this.store.work.run(async (tx) => {
			const atMs = this.clock.nowMs();
			if (account.totpSinceMs !== null) throw alreadyOn();
			const step = account.totpSecret === null ? undefined : totpStepOf(account.totpSecret, code, atMs);
			if (step === undefined || !(await takeStep(tx, account.id, step)))
				throw new InputError("invalid-input", "This isn't the code that the app shows now.", {
					problems: [{ at: "/code", message: "must be the six digits that the app shows now" }],
				});
			const codes = Array.from({ length: RECOVERY_CODES }, () => newLetters(RECOVERY_LETTERS));
			await tx.affected("UPDATE account SET totp_since_ms = $2 WHERE id = $1", [account.id, atMs]);
			await tx.affected("DELETE FROM recovery_code WHERE account_id = $1", [account.id]);
			for (const one of codes)
				await tx.affected("INSERT INTO recovery_code (id, account_id) VALUES ($1, $2)", [hashOf(one), account.id]);
			await record(tx, this.ids, [changeOf(account, "second factor on", atMs, actorOfAccount(account))]);
			return codes;
		});
	}

	/** No code is asked for any more. */
	off(account: AccountRow, by: string): Promise<void> {
		return this.store.work.run(async (tx) => {
			await tx.affected("UPDATE account SET totp_secret = NULL, totp_since_ms = NULL, totp_last_step = NULL WHERE id = $1", [
				account.id,
			]);
			await tx.affected("DELETE FROM recovery_code WHERE account_id = $1", [account.id]);
			await record(tx, this.ids, [changeOf(account, "second factor off", this.clock.nowMs(), by)]);
		});
	}

	/** Takes a code of the app, or one on paper, once. @returns whether it was right */
	async taken(tx: Transaction, account: AccountRow, code: string): Promise<boolean> {
		const nowMs = this.clock.nowMs();
		const typed = code.trim().toUpperCase();
		const step = account.totpSecret === null ? undefined : totpStepOf(account.totpSecret, typed.replaceAll(" ", ""), nowMs);
		if (step !== undefined) return takeStep(tx, account.id, step);
		const used = await tx.affected(
			"UPDATE recovery_code SET used_at_ms = $3 WHERE id = $1 AND account_id = $2 AND used_at_ms IS NULL",
			[hashOf(typed), account.id, nowMs],
		);
		return used > 0;
	}
}

function alreadyOn(): InputError {
	return new InputError("conflict", "A second factor is in use; take it off before a new one.", { status: 409 });
}
