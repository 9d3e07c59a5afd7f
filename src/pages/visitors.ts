import type { FastifyReply, FastifyRequest } from "fastify";
import type { PersonRole } from "../programme/rows.js";

/** Somebody who is signed in, as pages know her. */
export interface Visitor {
	readonly personId: string;
	readonly code: string;
	readonly name: string;
	readonly role: PersonRole;
	/** BCP 47. */
	readonly language: string;
	/** Of her area. */
	readonly timeZone: string;
	/** A form of hers must bring it back. */
	readonly formToken: string;
}

/** Whether a code was taken: wrong and too late are told alike, so that nobody learns which codes there are. */
export type SignedIn = "signed in" | "wrong" | "too many tries";

/** Who is at the other end of a page: the port to sessions and one-time codes. */
export abstract class Visitors {
	/** @returns who asks; nobody where no session comes with the request, or one that has ended */
	abstract of(request: FastifyRequest): Promise<Visitor | undefined>;
	/** Sends a one-time code, where the number or code is somebody's; nothing tells whether it is. */
	abstract sendCode(request: FastifyRequest, toWhom: string): Promise<"asked" | "too many tries">;
	/** Begins a session where the code is right. */
	abstract signIn(request: FastifyRequest, reply: FastifyReply, toWhom: string, code: string): Promise<SignedIn>;
	abstract signOut(request: FastifyRequest, reply: FastifyReply): Promise<void>;
}
