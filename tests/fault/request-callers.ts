import { ApiKeys } from "../../src/access/api-keys.js";
import { AccountRow } from "../../src/access/rows.js";
import type { Scope } from "../../src/access/rules.js";
import { formTokenOf, Sessions } from "../../src/access/sessions.js";
import { namesOf, type Side } from "../access/parts.js";
import { KEY } from "../api/served.js";
import { START_MS, type World } from "../support/world.js";

/** Somebody, or a program, that asks. */
export class RequestCaller {
	/** Whose things she names mostly. */
	readonly names;
	/** Of her pages' forms. */
	formToken = "";
	private credentials: Readonly<Record<string, string>> = {};

	constructor(
		readonly name: string,
		side: Side,
		private readonly begin: () => Promise<Readonly<Record<string, string>>>,
	) {
		this.names = namesOf(side);
	}

	/** Comes in, or in again: among what is asked is the end of a session, of an account and of a key. */
	async enter(): Promise<this> {
		this.credentials = await this.begin();
		const session = /^session=(.*)$/.exec(this.credentials["cookie"] ?? "")?.[1];
		this.formToken = session === undefined ? "" : formTokenOf(session);
		return this;
	}

	/** What the tests' service would put in by itself is taken out. */
	get headers(): Record<string, string> {
		return { authorization: "", "x-inbound-secret": "", ...this.credentials };
	}

	get isSignedIn(): boolean {
		return this.formToken !== "";
	}

	get isKnown(): boolean {
		return Object.keys(this.credentials).length > 0;
	}
}

/** Everybody there is: each role signed in, keys that may do one thing or several in a part or in the whole, the operator, and nobody. */
export async function requestCallers(world: World): Promise<RequestCaller[]> {
	const { store } = world;
	const cookieOf = (holder: { accountId: string } | { personId: string }) => async () => {
		const [id] = Object.values(holder) as [string];
		const yes = store.kind === "postgres" ? "TRUE" : "1";
		const { secret } = await store.work.run(async (tx) => {
			// She who was put out of service goes on; she who was erased doesn't.
			await tx.affected(`UPDATE account SET active = ${yes} WHERE id = $1`, [id]);
			await tx.affected(`UPDATE person SET active = ${yes} WHERE id = $1 AND erased_at_ms IS NULL`, [id]);
			return world.the(Sessions).begin(tx, holder, "a browser of the tests");
		});
		return { cookie: `session=${secret}`, "sec-fetch-site": "same-origin" };
	};
	const keyFor = (scopes: readonly Scope[], areaId: string | null) => async () => {
		const endsAtMs = world.clock.nowMs() + 365 * 86_400_000;
		const { key } = await world.the(ApiKeys).make({ name: "invented", scopes, areaId, endsAtMs }, "tests");
		return { authorization: `Bearer ${key}` };
	};
	for (const [id, personId] of [
		["IN-S", "IN-S"],
		["IN-O", "IN-O"],
		["ADMIN", null],
	] as const)
		await store.work.run((tx) =>
			tx.manager.insert(AccountRow, { ...ACCOUNT, id, login: id, personId, administrator: !personId }),
		);
	const callers = [
		new RequestCaller("the operator", "near", async () => ({ authorization: `Bearer ${KEY}` })),
		new RequestCaller("nobody", "near", async () => ({})),
		new RequestCaller("a volunteer", "mine", cookieOf({ personId: "MINE-V" })),
		new RequestCaller("a supervisor", "near", cookieOf({ accountId: "IN-S" })),
		new RequestCaller("the health office", "near", cookieOf({ accountId: "IN-O" })),
		new RequestCaller("an administrator", "near", cookieOf({ accountId: "ADMIN" })),
		new RequestCaller("a key that may look in a part", "near", keyFor(["read"], "IN")),
		new RequestCaller("a key that may write in a part", "near", keyFor(["write"], "IN")),
		new RequestCaller("a key that may do all in the whole", "near", keyFor(["read", "write", "audit", "administer"], null)),
	];
	for (const caller of callers) await caller.enter();
	return callers;
}

const ACCOUNT = {
	active: true,
	createdAtMs: START_MS,
	passwordHash: null,
	passwordSetAtMs: null,
	totpSecret: null,
	totpSinceMs: null,
	totpLastStep: null,
};
