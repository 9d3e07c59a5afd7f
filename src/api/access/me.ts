import { Body, Controller, Req, Res } from "@nestjs/common";
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import { accountOf, actorOfAccount } from "../../access/account.js";
import { Accounts } from "../../access/accounts.js";
import { AreaDuties } from "../../access/area-duties.js";
import type { Caller } from "../../access/caller.js";
import type { AccountRow } from "../../access/rows.js";
import { SecondFactor } from "../../access/second-factor.js";
import { Sessions } from "../../access/sessions.js";
import { SignIn } from "../../access/sign-in.js";
import { InputError } from "../../errors/errors.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { utc } from "../edge/fields.js";
import { begunOr, begunSchema, tooMany } from "./signed-in.js";

const password = z.string().min(1).max(1024);
const changing = z
	.strictObject({ password: password.meta({ description: "The one that counts now" }), newPassword: password })
	.meta({ id: "ChangedPassword" });
const proving = z.strictObject({ password }).meta({ id: "ProvingPassword" });
const confirming = z.strictObject({ code: z.string().min(1).max(20) }).meta({ id: "ConfirmedFactor" });
const prepared = z
	.strictObject({
		secret: z.string().meta({ description: "Base 32, to be typed into an authenticator app" }),
		address: z.string().meta({ description: "otpauth:, for a picture that the app reads" }),
	})
	.meta({ id: "PreparedFactor" });
const recovery = z
	.strictObject({
		recoveryCodes: z.array(z.string()).meta({ description: "Each serves once in place of the app; told this once" }),
	})
	.meta({ id: "RecoveryCodes" });
const done = z.strictObject({ done: z.literal(true) }).meta({ id: "FactorOff" });

const me = z
	.strictObject({
		personCode: z.string().nullable(),
		login: z.string().nullable().meta({ description: "null: a volunteer, who has no account" }),
		roles: z.array(z.enum(["volunteer", "supervisor", "health office", "administrator"])),
		areaCodes: z.array(z.string()).meta({ description: "Her own area first" }),
		secondFactorSince: utc.nullable(),
		formToken: z.string().nullable(),
	})
	.meta({ id: "Me" });

/** What one sees to oneself: password and second factor. Each change asks for the password once more. */
@Controller()
export class MeController {
	constructor(
		private readonly store: Store,
		private readonly signIn: SignIn,
		private readonly accounts: Accounts,
		private readonly factor: SecondFactor,
		private readonly sessions: Sessions,
		private readonly duties: AreaDuties,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/account",
		access: "own",
		touches: ["own"],
		summary: "Tells who is signed in, and what is hers",
		answer: { description: "The caller", schema: me, isSecret: true },
	})
	async whoAmI(@ByCaller() caller: Caller, @Req() request: FastifyRequest): Promise<z.output<typeof me>> {
		const account = caller.accountId === null ? undefined : await accountOf(this.store, caller.accountId);
		const since = account?.totpSinceMs ?? null;
		return {
			personCode: caller.personCode,
			login: account?.login ?? null,
			roles: [...caller.roles],
			areaCodes: caller.personId === null ? [] : await this.duties.of(caller.personId),
			secondFactorSince: since === null ? null : new Date(since).toISOString(),
			formToken: request.formToken,
		};
	}

	@Endpoint({
		method: "POST",
		path: "/account/password",
		access: "own",
		touches: ["own"],
		summary: "Changes one's password, signs out everywhere else, and begins a new session here",
		answer: { description: "A new session", schema: begunSchema, isSecret: true },
	})
	async changePassword(
		@Body({ schema: changing }) given: z.output<typeof changing>,
		@ByCaller() caller: Caller,
		@Req() request: FastifyRequest,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof begunSchema>> {
		const account = await this.proved(caller, given.password);
		await this.accounts.change(account, given.newPassword, "/newPassword");
		const begun = await this.store.work.run(async (tx) => {
			await this.sessions.endAll(tx, { accountId: account.id });
			return this.sessions.begin(tx, { accountId: account.id }, request.headers["user-agent"]);
		});
		return begunOr({ state: "signed in", accountId: account.id, ...begun }, request, reply, this.clock);
	}

	@Endpoint({
		method: "POST",
		path: "/account/second-factor",
		access: "own",
		touches: ["own"],
		summary: "Prepares a second factor; it counts once a code of it has been shown",
		description: "Time-based one-time passwords (RFC 6238), as authenticator apps make them.",
		answer: { description: "What the app needs", schema: prepared, isSecret: true },
	})
	async prepareFactor(@Body({ schema: proving }) given: z.output<typeof proving>, @ByCaller() caller: Caller) {
		return this.factor.prepare(await this.proved(caller, given.password));
	}

	@Endpoint({
		method: "POST",
		path: "/account/second-factor/confirm",
		access: "own",
		touches: ["own"],
		summary: "Turns the second factor on by a code of it",
		answer: { description: "Codes for the day on which the app is lost", schema: recovery, isSecret: true },
	})
	async confirmFactor(@Body({ schema: confirming }) { code }: z.output<typeof confirming>, @ByCaller() caller: Caller) {
		const account = await this.accountOf(caller);
		const recoveryCodes = await this.factor.confirm(account, code.replaceAll(" ", ""));
		await this.store.work.run((tx) => this.sessions.endAll(tx, { accountId: account.id }, caller.sessionId ?? ""));
		return { recoveryCodes };
	}

	@Endpoint({
		method: "POST",
		path: "/account/second-factor/off",
		access: "own",
		touches: ["own"],
		summary: "Turns the second factor off",
		answer: { description: "It is off", schema: done, isSecret: true },
	})
	async factorOff(
		@Body({ schema: proving }) given: z.output<typeof proving>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof done>> {
		const account = await this.proved(caller, given.password);
		await this.factor.off(account, actorOfAccount(account));
		return { done: true };
	}

	private async accountOf({ accountId }: Caller): Promise<AccountRow> {
		if (accountId !== null) return this.accounts.named(this.store, accountId);
		throw new InputError("not-allowed", "A volunteer signs in by a code on her phone and has no password.", { status: 403 });
	}

	private async proved(caller: Caller, given: string): Promise<AccountRow> {
		const account = await this.accountOf(caller);
		const shown = await this.signIn.hasShown(account, given);
		if (typeof shown === "object") throw tooMany(shown.waitMs);
		if (shown === "wrong")
			throw new InputError("not-allowed", "This isn't your password.", {
				status: 403,
				problems: [{ at: "/password", message: "must be the password that counts now" }],
			});
		return account;
	}
}
