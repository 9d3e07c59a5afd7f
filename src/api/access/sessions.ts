import { Controller, Param, Req, Res } from "@nestjs/common";
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { type Holder, Sessions } from "../../access/sessions.js";
import { InputError } from "../../errors/errors.js";
import { OFFICE } from "../../ledger/acting.js";
import { record } from "../../ledger/ledger.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Ids } from "../../time/ids.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utc, utcOf } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";
import { forgetSession } from "./signed-in.js";

const byId = z.strictObject({ id: z.string().min(1).max(40) });
const session = z.strictObject({
	id: z.string(),
	beganAt: utc,
	usedAt: utc,
	endsAt: utc,
	device: z.string().nullable().meta({ description: "What the browser calls itself" }),
	isThisOne: z.boolean(),
});
const list = z.strictObject({ items: z.array(session) }).meta({ id: "Sessions" });
const ended = z.strictObject({ ended: z.int() }).meta({ id: "EndedSessions" });

/** @returns whose sessions are a caller's */
export function holderOf({ accountId, personId }: Caller): Holder {
	if (accountId !== null) return { accountId };
	if (personId !== null) return { personId };
	throw new InputError(
		"not-allowed",
		"A key, and this machine by itself, have no sign-in of their own: sign in as a person to see to one.",
		{
			status: 403,
		},
	);
}

@Controller()
export class SessionsController {
	constructor(
		private readonly store: Store,
		private readonly sessions: Sessions,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	@Endpoint({
		method: "GET",
		path: "/sessions",
		access: "own",
		touches: ["own"],
		summary: "Lists where one is signed in",
		answer: { description: "The one that was used last first", schema: list },
	})
	async listSessions(@ByCaller() caller: Caller): Promise<z.output<typeof list>> {
		const all = await this.sessions.listOf(holderOf(caller));
		return {
			items: all.map(({ id, beganAtMs, usedAtMs, endsAtMs, device }) => ({
				...{ id, device, isThisOne: id === caller.sessionId },
				...{ beganAt: utcOf(beganAtMs), usedAt: utcOf(usedAtMs), endsAt: utcOf(endsAtMs) },
			})),
		};
	}

	@Endpoint({
		method: "POST",
		path: "/sessions/current/end",
		access: "own",
		touches: ["own"],
		summary: "Signs out",
		answer: { description: "The session has ended, here and on the server", schema: ended },
	})
	async signOut(
		@ByCaller() caller: Caller,
		@Req() request: FastifyRequest,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof ended>> {
		const isEnded = await this.store.work.run((tx) => this.sessions.end(tx, holderOf(caller), caller.sessionId ?? ""));
		forgetSession(request, reply);
		return { ended: Number(isEnded) };
	}

	@Endpoint({
		method: "POST",
		path: "/sessions/others/end",
		access: "own",
		touches: ["own"],
		summary: "Signs out everywhere else",
		answer: { description: "How many sessions have ended", schema: ended },
	})
	async endOthers(@ByCaller() caller: Caller): Promise<z.output<typeof ended>> {
		const number = await this.store.work.run((tx) => this.sessions.endAll(tx, holderOf(caller), caller.sessionId ?? ""));
		return { ended: number };
	}

	@Endpoint({
		method: "POST",
		path: "/sessions/:id/end",
		access: "own",
		touches: ["own"],
		summary: "Ends one of one's sessions",
		answer: { description: "It has ended", schema: ended },
	})
	async endSession(
		@Param({ schema: byId }) { id }: z.output<typeof byId>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof ended>> {
		const isEnded = await this.store.work.run((tx) => this.sessions.end(tx, holderOf(caller), id));
		if (!isEnded) throw new InputError("unknown-subject", "None of your sessions has this id.", { status: 404 });
		return { ended: 1 };
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/sessions/end",
		access: "lead",
		touches: ["person path.code"],
		summary: "Signs a person out everywhere, for a phone that is lost",
		answer: { description: "How many sessions have ended", schema: ended },
	})
	async endOfPerson(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof ended>> {
		const personId = await idNamed(this.store, "person", named.code, "code");
		return this.store.work.run(async (tx) => {
			const accounts = await tx.query<{ id: string }>("SELECT id FROM account WHERE person_id = $1", [personId]);
			let number = await this.sessions.endAll(tx, { personId });
			for (const { id } of accounts) number += await this.sessions.endAll(tx, { accountId: id });
			const about = { subjectKind: "person", subjectId: personId, action: "signed out everywhere" };
			const atMs = this.clock.nowMs();
			if (number > 0) await record(tx, this.ids, [{ ...about, atMs, actor: OFFICE, detail: { sessions: number } }]);
			return { ended: number };
		});
	}
}
