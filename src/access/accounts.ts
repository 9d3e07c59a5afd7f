import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { post, type Wake } from "../messages/wake.js";
import type { Store } from "../store/store.js";
import { isTaken, type Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS, MINUTE_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { accountCalled, accountOf, changeOf, LOGIN } from "./account.js";
import { assertGoodPassword, hashed } from "./passwords.js";
import type { AccountRow } from "./rows.js";
import { hashOf, newLetters, newSecret } from "./secrets.js";
import type { Sessions } from "./sessions.js";
import type { Throttle } from "./throttle.js";

export interface NewAccount {
	readonly login: string;
	readonly personId: string | null;
	readonly administrator: boolean;
}

/** 25 letters and digits of 31: 123 bits. */
const LINK_LETTERS = 25;
/** An invitation waits for somebody who may be on the way; what was asked for just now is used just now. */
const INVITED_MS = 3 * DAY_MS;
const ASKED_MS = 30 * MINUTE_MS;

/** Who may sign in by a password, and how a password is chosen: always by its holder, with a code that serves once. */
export class Accounts {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly sessions: Sessions,
		private readonly throttle: Throttle,
		private readonly wake: Wake,
		private readonly publicUrl: string | undefined,
	) {}

	/**
	 * @returns the account; its holder chooses a password with the code, which is sent to her where she can be written to, and told
	 * this once where she can't
	 * @throws InputError where the login isn't one, is taken, or the person has an account or is a volunteer
	 */
	create({ login: given, personId, administrator }: NewAccount, by: string): Promise<{ id: string; code: string | null }> {
		const login = given.trim().toLowerCase();
		if (!LOGIN.test(login))
			throw refused("/login", "must be 2 to 40 small letters, digits or . _ -, beginning with a letter or digit");
		if (personId === null && !administrator)
			throw refused("/personCode", "must name a person, whose role and area it has, or the account must be an administrator's");
		return this.store.work.run(async (tx) => {
			await assertHasNone(tx, personId);
			const atMs = this.clock.nowMs();
			const id = this.ids.next();
			try {
				await tx.affected(
					"INSERT INTO account (id, login, person_id, administrator, active, created_at_ms) SELECT $1, $2, $3, $4, $5, $6 WHERE NOT EXISTS (SELECT 1 FROM account WHERE login = $2)",
					[id, login, personId, administrator, true, atMs],
				);
			} catch (error) {
				if (isTaken(error, "account_login")) throw taken();
				throw error;
			}
			const account = await accountOf(tx, id);
			if (!account) throw taken();
			await record(tx, this.ids, [changeOf(account, "account made", atMs, by, { administrator, personId })]);
			return { id, code: await this.link(tx, account, INVITED_MS) };
		});
	}

	list(): Promise<(AccountRow & { personCode: string | null })[]> {
		return this.store.query(
			"SELECT c.*, p.code AS person_code FROM account c LEFT JOIN person p ON p.id = c.person_id ORDER BY c.login",
		);
	}

	/** A new code to choose a password with; the one before ends. @returns the code where it can't be sent to the holder */
	newLink(id: string, by: string): Promise<string | null> {
		return this.store.work.run(async (tx) => {
			const account = await this.named(tx, id);
			await record(tx, this.ids, [changeOf(account, "password link made", this.clock.nowMs(), by)]);
			return this.link(tx, account, INVITED_MS);
		});
	}

	/** Sends one to whoever has forgotten hers; nothing tells whether there is such an account. */
	async forgotten(login: string, address: string): Promise<{ waitMs: number }> {
		const called = login.trim().toLowerCase();
		const waitMs = await this.throttle.triedAll(["address", address], ["links", called]);
		if (waitMs > 0) return { waitMs };
		await this.store.work.run(async (tx) => {
			const account = await accountCalled(tx, called);
			if (account?.active && account.personId !== null && (await isReachable(tx, account.personId)))
				await this.link(tx, account, ASKED_MS);
		});
		return { waitMs: 0 };
	}

	/**
	 * Chooses a password by such a code, once. Everybody who was signed in to the account is signed out, and no device is known any more
	 * but this one: she can sign in from it though strangers have used up the tries of all others.
	 * @returns what this device's cookie holds
	 */
	async choose(code: string, password: string, address: string): Promise<{ waitMs: number; deviceSecret?: string }> {
		const waitMs = await this.throttle.tried("address", address);
		if (waitMs > 0) return { waitMs };
		const link = hashOf(code.trim().toUpperCase());
		const account = await this.accountOfLink(this.store, link);
		await assertGoodPassword(password, "/password", await this.knownOf(account));
		const hash = await hashed(password);
		const deviceSecret = newSecret();
		await this.store.work.run(async (tx) => {
			const used = await tx.affected("DELETE FROM account_link WHERE id = $1 AND ends_at_ms > $2", [link, this.clock.nowMs()]);
			if (used === 0) throw noSuchLink();
			await this.setPassword(tx, account, hash, "password chosen");
			await this.sessions.endAll(tx, { accountId: account.id });
			await tx.affected("DELETE FROM known_device WHERE account_id = $1", [account.id]);
			await tx.affected("INSERT INTO known_device (id, account_id, used_at_ms) VALUES ($1, $2, $3)", [
				hashOf(deviceSecret),
				account.id,
				this.clock.nowMs(),
			]);
		});
		return { waitMs: 0, deviceSecret };
	}

	/** Sets a password whose holder has shown the old one, or sits at the machine. */
	async change(account: AccountRow, password: string, at: string): Promise<void> {
		await assertGoodPassword(password, at, await this.knownOf(account));
		const hash = await hashed(password);
		await this.store.work.run((tx) => this.setPassword(tx, account, hash, "password changed"));
	}

	/** Whoever may not sign in any more is signed out everywhere at once. @throws InputError `conflict` for the last administrator */
	setActive(id: string, active: boolean, by: string): Promise<void> {
		return this.store.work.run(async (tx) => {
			const account = await this.named(tx, id);
			const [others] = await tx.query<{ count: number }>(
				"SELECT count(*) AS count FROM account WHERE administrator AND active AND id <> $1",
				[id],
			);
			if (!active && account.administrator && Number(others?.count) === 0)
				throw new InputError("conflict", "This is the last administrator who may sign in; make another one first.", {
					status: 409,
				});
			await tx.affected("UPDATE account SET active = $2 WHERE id = $1", [id, active]);
			if (!active) await this.sessions.endAll(tx, { accountId: id });
			await record(tx, this.ids, [changeOf(account, active ? "account opened" : "account closed", this.clock.nowMs(), by)]);
		});
	}

	/** @throws InputError 404 */
	async named(from: Pick<Store, "query">, id: string): Promise<AccountRow> {
		const account = await accountOf(from, id);
		if (account) return account;
		throw new InputError("unknown-subject", "There is no account with this id.", { status: 404 });
	}

	private async setPassword(tx: Transaction, account: AccountRow, hash: string, action: string): Promise<void> {
		const atMs = this.clock.nowMs();
		await tx.affected("UPDATE account SET password_hash = $2, password_set_at_ms = $3 WHERE id = $1", [account.id, hash, atMs]);
		await tx.affected("DELETE FROM account_link WHERE account_id = $1", [account.id]);
		await record(tx, this.ids, [changeOf(account, action, atMs, account.personId ?? `account ${account.id}`)]);
	}

	/** @returns the code, where it can't be sent to whoever it is for; else none */
	private async link(tx: Transaction, account: AccountRow, lastsMs: number): Promise<string | null> {
		const code = newLetters(LINK_LETTERS);
		const nowMs = this.clock.nowMs();
		const { personId } = account;
		const recipientId = personId !== null && (await isReachable(tx, personId)) ? personId : null;
		const messageId = recipientId === null ? null : this.ids.next();
		await tx.affected("DELETE FROM account_link WHERE account_id = $1 OR ends_at_ms < $2", [account.id, nowMs]);
		await tx.affected(
			"INSERT INTO account_link (id, account_id, message_id, made_at_ms, ends_at_ms) VALUES ($1, $2, $3, $4, $5)",
			[hashOf(code), account.id, messageId, nowMs, nowMs + lastsMs],
		);
		if (recipientId === null || messageId === null) return code;
		const way = this.publicUrl === undefined ? code : `${this.publicUrl.replace(/\/$/, "")}/password#${code}`;
		const fill = { login: account.login, way };
		const common = { id: messageId, idempotencyKey: `password ${messageId}`, taskId: null, recipientId, urgent: true };
		await post(tx, this.wake, [{ ...common, text: "signIn.password", fill, createdAtMs: nowMs, notBeforeMs: nowMs }]);
		return null;
	}

	private async accountOfLink(from: Pick<Store, "query">, link: string): Promise<AccountRow> {
		const [found] = await from.query<{ accountId: string }>(
			"SELECT account_id FROM account_link WHERE id = $1 AND ends_at_ms > $2",
			[link, this.clock.nowMs()],
		);
		const account = found && (await accountOf(from, found.accountId));
		if (!account?.active) throw noSuchLink();
		return account;
	}

	private async knownOf({ login, personId }: AccountRow): Promise<string[]> {
		const [person] = await this.store.query<{ code: string }>("SELECT code FROM person WHERE id = $1", [personId]);
		return [login, ...(person ? [person.code] : [])];
	}
}

async function assertHasNone(tx: Transaction, personId: string | null): Promise<void> {
	if (personId === null) return;
	const [person] = await tx.query<{ role: string; hasOne: number }>(
		"SELECT p.role, (SELECT count(*) FROM account c WHERE c.person_id = p.id) AS has_one FROM person p WHERE p.id = $1",
		[personId],
	);
	if (person?.role === "volunteer")
		throw refused("/personCode", "is a volunteer, who signs in by a code that is sent to her phone; an account is for staff");
	if (Number(person?.hasOne) > 0) throw refused("/personCode", "has an account already");
}

async function isReachable(tx: Transaction, personId: string): Promise<boolean> {
	const [person] = await tx.query<{ reachable: number }>(
		"SELECT 1 AS reachable FROM person WHERE id = $1 AND active AND (phone_e164 IS NOT NULL OR email IS NOT NULL)",
		[personId],
	);
	return person !== undefined;
}

function refused(at: string, message: string): InputError {
	return new InputError("invalid-input", `${at.slice(1)} ${message}.`, { problems: [{ at, message }] });
}

function taken(): InputError {
	return new InputError("conflict", "There is an account of this login.", {
		status: 409,
		problems: [{ at: "/login", message: "must be a new one" }],
	});
}

function noSuchLink(): InputError {
	return new InputError("not-allowed", "This code was used, or its time is over; ask for a new one.", {
		status: 403,
		problems: [{ at: "/code", message: "must be the newest one, within its time" }],
	});
}
