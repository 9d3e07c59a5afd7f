import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { Accounts } from "../../access/accounts.js";
import type { Caller } from "../../access/caller.js";
import { SecondFactor } from "../../access/second-factor.js";
import { Sessions } from "../../access/sessions.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, utc, utcOf } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";

const byId = z.strictObject({ id: z.string().min(1).max(40) });

const account = z
	.strictObject({
		id: z.string(),
		login: z.string(),
		personCode: z.string().nullable(),
		isAdministrator: z.boolean(),
		isActive: z.boolean(),
		hasPassword: z.boolean(),
		hasSecondFactor: z.boolean(),
		madeAt: utc,
	})
	.meta({ id: "Account" });
const list = z.strictObject({ items: z.array(account) }).meta({ id: "Accounts" });

const newAccount = z
	.strictObject({
		login: z.string().trim().min(2).max(40),
		personCode: code.nullable().default(null).meta({ description: "Whose role and area it has; null: an administrator's" }),
		isAdministrator: z.boolean().default(false),
	})
	.meta({ id: "NewAccount" });

const made = z
	.strictObject({
		id: z.string(),
		code: z.string().nullable().meta({
			description: "With which the holder chooses a password (POST /password), told this once; null: it was sent to her",
		}),
	})
	.meta({ id: "MadeAccount" });
const opening = z.strictObject({ isActive: z.boolean() }).meta({ id: "AccountState" });
const done = z.strictObject({ done: z.literal(true) }).meta({ id: "AccountChanged" });

/** Who of the staff may sign in. Nobody ever sees or sets another's password. */
@Controller()
export class AccountsController {
	constructor(
		private readonly store: Store,
		private readonly accounts: Accounts,
		private readonly factor: SecondFactor,
		private readonly sessions: Sessions,
	) {}

	@Endpoint({
		method: "GET",
		path: "/accounts",
		access: "administer",
		touches: ["whole"],
		summary: "Lists who may sign in by a password",
		answer: { description: "Accounts, by login", schema: list },
	})
	async listAccounts(): Promise<z.output<typeof list>> {
		const all = await this.accounts.list();
		return {
			items: all.map((one) => ({
				...{ id: one.id, login: one.login, personCode: one.personCode },
				isAdministrator: Boolean(one.administrator),
				isActive: Boolean(one.active),
				hasPassword: one.passwordHash !== null,
				hasSecondFactor: one.totpSinceMs !== null,
				madeAt: utcOf(one.createdAtMs),
			})),
		};
	}

	@Endpoint({
		method: "POST",
		path: "/accounts",
		access: "administer",
		touches: ["whole", "person body.personCode"],
		summary: "Makes an account for one of the staff, or for an administrator",
		answer: { status: 201, description: "The account", schema: made, isSecret: true },
	})
	async makeAccount(
		@Body({ schema: newAccount }) { login, personCode, isAdministrator }: z.output<typeof newAccount>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof made>> {
		const personId = (await idIfNamed(this.store, "person", personCode ?? undefined, "/personCode")) ?? null;
		return this.accounts.create({ login, personId, administrator: isAdministrator }, caller.actor);
	}

	@Endpoint({
		method: "POST",
		path: "/accounts/:id/password-code",
		access: "administer",
		touches: ["whole"],
		summary: "Gives the holder of an account a new code to choose a password with; an earlier one ends",
		answer: { status: 201, description: "Told, or sent to her", schema: made, isSecret: true },
	})
	async newCode(
		@Param({ schema: byId }) { id }: z.output<typeof byId>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof made>> {
		return { id, code: await this.accounts.newLink(id, caller.actor) };
	}

	@Endpoint({
		method: "POST",
		path: "/accounts/:id/state",
		access: "administer",
		touches: ["whole"],
		summary: "Closes an account, which signs its holder out everywhere, or opens it again",
		answer: { description: "It is so", schema: done },
	})
	async setState(
		@Param({ schema: byId }) { id }: z.output<typeof byId>,
		@Body({ schema: opening }) { isActive }: z.output<typeof opening>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof done>> {
		await this.accounts.setActive(id, isActive, caller.actor);
		return { done: true };
	}

	@Endpoint({
		method: "POST",
		path: "/accounts/:id/second-factor/off",
		access: "administer",
		touches: ["whole"],
		summary: "Takes a second factor off whose app and codes are lost, and signs its holder out everywhere",
		description: "Make sure who asks: from then on the password alone is enough.",
		answer: { description: "It is off", schema: done },
	})
	async takeFactorOff(
		@Param({ schema: byId }) { id }: z.output<typeof byId>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof done>> {
		const account = await this.accounts.named(this.store, id);
		await this.factor.off(account, caller.actor);
		await this.store.work.run((tx) => this.sessions.endAll(tx, { accountId: id }));
		return { done: true };
	}

	@Endpoint({
		method: "POST",
		path: "/accounts/:id/sessions/end",
		access: "administer",
		touches: ["whole"],
		summary: "Signs the holder of an account out everywhere",
		answer: { description: "She is", schema: done },
	})
	async endSessions(@Param({ schema: byId }) { id }: z.output<typeof byId>): Promise<z.output<typeof done>> {
		await this.accounts.named(this.store, id);
		await this.store.work.run((tx) => this.sessions.endAll(tx, { accountId: id }));
		return { done: true };
	}
}
