import type { FastifyReply, FastifyRequest } from "fastify";
import type { Sessions } from "../access/sessions.js";
import type { SignInByCode } from "../access/sign-in-by-code.js";
import { forgetSession, keepCookies } from "../api/access/signed-in.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import { type SignedIn, type Visitor, Visitors } from "./visitors.js";

/** Whoever is signed in by a session's cookie; the door of the service has found out who that is before any page is asked for. */
export class SessionVisitors extends Visitors {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly sessions: Sessions,
		private readonly byCode: SignInByCode,
	) {
		super();
	}

	async of({ caller, formToken }: FastifyRequest): Promise<Visitor | undefined> {
		if (!caller?.personId || formToken === null) return undefined;
		const [known] = await this.store.query<Omit<Visitor, "formToken">>(
			"SELECT p.id AS person_id, p.code, p.name, p.role, p.language, a.time_zone FROM person p JOIN area a ON a.id = p.area_id WHERE p.id = $1",
			[caller.personId],
		);
		return known && { ...known, formToken };
	}

	async sendCode(request: FastifyRequest, toWhom: string): Promise<"asked" | "too many tries"> {
		const { waitMs } = await this.byCode.ask(toWhom, request.peer);
		return waitMs > 0 ? "too many tries" : "asked";
	}

	async signIn(request: FastifyRequest, reply: FastifyReply, toWhom: string, code: string): Promise<SignedIn> {
		const begun = await this.byCode.enter(toWhom, code, request.peer, request.headers["user-agent"]);
		if (begun.state === "wait") return "too many tries";
		if (begun.state !== "signed in") return "wrong";
		keepCookies(begun, request, reply, this.clock);
		return "signed in";
	}

	async signOut(request: FastifyRequest, reply: FastifyReply): Promise<void> {
		const { caller } = request;
		const sessionId = caller?.sessionId;
		if (caller && sessionId) {
			const holder = caller.accountId === null ? { personId: caller.personId as string } : { accountId: caller.accountId };
			await this.store.work.run((tx) => this.sessions.end(tx, holder, sessionId));
		}
		forgetSession(request, reply);
	}
}
