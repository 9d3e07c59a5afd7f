import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import { accountCalled } from "./account.js";
import { hashed, isOutdated, matches } from "./passwords.js";
import type { AccountRow } from "./rows.js";
import type { SecondFactor } from "./second-factor.js";
import { hashOf, newSecret } from "./secrets.js";
import type { Sessions } from "./sessions.js";
import type { Allowed, Throttle } from "./throttle.js";

/** What somebody shows at the door. */
export interface Shown {
	readonly login: string;
	readonly password: string;
	/** Of the second factor, where the account has one. */
	readonly code?: string | undefined;
	/** Of the peer. */
	readonly address: string;
	/** What the browser calls itself. */
	readonly device?: string | undefined;
	/** What the cookie of a device holds in which somebody has signed in before. */
	readonly deviceSecret?: string | undefined;
}

/** A session has begun. */
export interface Begun {
	readonly state: "signed in";
	readonly accountId: string | null;
	/** For the session's cookie. */
	readonly secret: string;
	readonly endsAtMs: number;
	/** For the device's cookie; none: it has one, or is a volunteer's. */
	readonly deviceSecret?: string;
}

/** What becomes of it; wrong login and wrong password are told alike. */
export type SignedIn =
	| Begun
	| { readonly state: "wrong" }
	| { readonly state: "code needed" }
	| { readonly state: "wait"; readonly waitMs: number };

/** Signs staff in by a password and, where an account has one, a second factor. */
export class SignIn {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly sessions: Sessions,
		private readonly factor: SecondFactor,
		private readonly throttle: Throttle,
	) {}

	async withPassword(shown: Shown): Promise<SignedIn> {
		const { password, address } = shown;
		const login = shown.login.trim().toLowerCase();
		const account = await accountCalled(this.store, login);
		const device = await this.knownDevice(account, shown.deviceSecret);
		const counted: [Allowed, ...string[]][] = device
			? [["device", device]]
			: [
					["pair", login, address],
					["strangers", login],
					["address", address],
				];
		const waitMs = await this.throttle.triedAll(...counted);
		if (waitMs > 0) return { state: "wait", waitMs };
		const isRight = await matches(account?.active ? account.passwordHash : null, password);
		if (!account || !isRight) return { state: "wrong" };
		if (account.totpSinceMs !== null) {
			if (shown.code === undefined || shown.code === "") return { state: "code needed" };
			const { code } = shown;
			if (!(await this.store.work.run((tx) => this.factor.taken(tx, account, code)))) return { state: "wrong" };
		}
		for (const [kind, ...of] of counted)
			await (kind === "pair" || kind === "device" ? this.throttle.forget(kind, ...of) : this.throttle.refund(kind, ...of));
		return this.begun(account, shown, device);
	}

	/** Whether somebody who is signed in has shown her password once more; counted like any other try. */
	async hasShown(account: AccountRow, password: string): Promise<"right" | "wrong" | { waitMs: number }> {
		const waitMs = await this.throttle.tried("device", `account ${account.id}`);
		if (waitMs > 0) return { waitMs };
		if (!(await matches(account.passwordHash, password))) return "wrong";
		await this.throttle.forget("device", `account ${account.id}`);
		return "right";
	}

	private async begun(account: AccountRow, { password, device, deviceSecret }: Shown, known: string | undefined): Promise<Begun> {
		const kept = account.passwordHash ?? "";
		const anew = isOutdated(kept) ? await hashed(password) : undefined;
		return this.store.work.run(async (tx) => {
			if (anew)
				await tx.affected("UPDATE account SET password_hash = $2 WHERE id = $1 AND password_hash = $3", [account.id, anew, kept]);
			const { secret, endsAtMs } = await this.sessions.begin(tx, { accountId: account.id }, device);
			const deviceNow = known === undefined ? newSecret() : undefined;
			await tx.affected(
				"INSERT INTO known_device (id, account_id, used_at_ms) VALUES ($1, $2, $3) ON CONFLICT (id) DO UPDATE SET used_at_ms = $3",
				[hashOf(deviceNow ?? (deviceSecret as string)), account.id, this.clock.nowMs()],
			);
			return { state: "signed in", accountId: account.id, secret, endsAtMs, ...(deviceNow && { deviceSecret: deviceNow }) };
		});
	}

	/** @returns the hash of a device's cookie, where somebody has signed in to this very account from it */
	private async knownDevice(account: AccountRow | undefined, secret: string | undefined): Promise<string | undefined> {
		if (!account || secret === undefined) return undefined;
		const id = hashOf(secret);
		const known = await this.store.query("SELECT 1 AS one FROM known_device WHERE id = $1 AND account_id = $2", [id, account.id]);
		return known.length > 0 ? id : undefined;
	}
}
