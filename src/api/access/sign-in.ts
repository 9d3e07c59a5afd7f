import { Body, Controller, Req, Res } from "@nestjs/common";
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import { Accounts } from "../../access/accounts.js";
import { SignIn } from "../../access/sign-in.js";
import { SignInByCode } from "../../access/sign-in-by-code.js";
import { Clock } from "../../time/clock.js";
import { cookieOf } from "../edge/cookies.js";
import { Endpoint } from "../edge/endpoint.js";
import { begunOr, begunSchema, keepDevice, tooMany } from "./signed-in.js";

const login = z.string().min(1).max(64);
const password = z.string().min(1).max(1024).meta({ description: "As it was typed, to the letter" });

const withPassword = z
	.strictObject({
		login,
		password,
		code: z.string().max(40).optional().meta({ description: "Of the app, or on paper, where a second factor is on" }),
	})
	.meta({ id: "SignIn" });

const whom = z.string().trim().min(1).max(64).meta({ description: "A phone number with its country, or a volunteer's code" });
const asking = z.strictObject({ to: whom }).meta({ id: "SignInCodeWanted" });
const withCode = z.strictObject({ to: whom, code: z.string().min(1).max(20) }).meta({ id: "SignInByCode" });
const forgotten = z.strictObject({ login }).meta({ id: "ForgottenPassword" });
const chosen = z.strictObject({ code: z.string().min(1).max(64), password }).meta({ id: "ChosenPassword" });
const asked = z.strictObject({ asked: z.literal(true) }).meta({ id: "Asked" });
const done = z.strictObject({ done: z.literal(true) }).meta({ id: "Done" });

@Controller()
export class SignInController {
	constructor(
		private readonly signIn: SignIn,
		private readonly byCode: SignInByCode,
		private readonly accounts: Accounts,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/sessions",
		access: "open",
		summary: "Signs staff in by a password and, where it is on, a second factor",
		description: "The session comes as a cookie. 401: something isn't right, or a code is needed; 429: too many tries.",
		answer: { status: 201, description: "A session has begun", schema: begunSchema, isSecret: true },
	})
	async beginSession(
		@Body({ schema: withPassword }) given: z.output<typeof withPassword>,
		@Req() request: FastifyRequest,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof begunSchema>> {
		const signedIn = await this.signIn.withPassword({
			...given,
			address: request.peer,
			device: request.headers["user-agent"],
			deviceSecret: cookieOf(request, "device"),
		});
		return begunOr(signedIn, request, reply, this.clock);
	}

	@Endpoint({
		method: "POST",
		path: "/sign-in-codes",
		access: "open",
		summary: "Sends a volunteer a code to sign in with",
		description: "The answer is the same whether anybody has the number or not.",
		answer: { status: 202, description: "If a volunteer has the number, a code is on its way", schema: asked, isSecret: true },
	})
	async askForCode(
		@Body({ schema: asking }) { to }: z.output<typeof asking>,
		@Req() request: FastifyRequest,
	): Promise<z.output<typeof asked>> {
		const { waitMs } = await this.byCode.ask(to, request.peer);
		if (waitMs > 0) throw tooMany(waitMs);
		return { asked: true };
	}

	@Endpoint({
		method: "POST",
		path: "/sessions/by-code",
		access: "open",
		summary: "Signs a volunteer in by the code that was sent to her",
		answer: { status: 201, description: "A session has begun", schema: begunSchema, isSecret: true },
	})
	async beginByCode(
		@Body({ schema: withCode }) { to, code }: z.output<typeof withCode>,
		@Req() request: FastifyRequest,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof begunSchema>> {
		const signedIn = await this.byCode.enter(to, code, request.peer, request.headers["user-agent"]);
		return begunOr(signedIn, request, reply, this.clock);
	}

	@Endpoint({
		method: "POST",
		path: "/password/forgotten",
		access: "open",
		summary: "Sends staff a code to choose a new password with",
		description: "The answer is the same whether there is such an account or not.",
		answer: { status: 202, description: "If there is such an account, a code is on its way", schema: asked, isSecret: true },
	})
	async forgotPassword(
		@Body({ schema: forgotten }) given: z.output<typeof forgotten>,
		@Req() request: FastifyRequest,
	): Promise<z.output<typeof asked>> {
		const { waitMs } = await this.accounts.forgotten(given.login, request.peer);
		if (waitMs > 0) throw tooMany(waitMs);
		return { asked: true };
	}

	@Endpoint({
		method: "POST",
		path: "/password",
		access: "open",
		summary: "Chooses a password by a code that serves once; everybody who was signed in to the account is signed out",
		answer: { description: "The password counts; sign in with it", schema: done, isSecret: true },
	})
	async choosePassword(
		@Body({ schema: chosen }) given: z.output<typeof chosen>,
		@Req() request: FastifyRequest,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof done>> {
		const { waitMs, deviceSecret } = await this.accounts.choose(given.code, given.password, request.peer);
		if (waitMs > 0) throw tooMany(waitMs);
		if (deviceSecret) keepDevice(deviceSecret, request, reply);
		return { done: true };
	}
}
