import { createHash, type Hash } from "node:crypto";
import { Readable } from "node:stream";
import type { CallHandler, ExecutionContext, NestInterceptor } from "@nestjs/common";
import type { FastifyReply, FastifyRequest } from "fastify";
import { from, lastValueFrom, type Observable } from "rxjs";
import type { Store } from "../../store/store.js";
import { type EndpointFacts, endpointFacts } from "../edge/endpoint.js";
import { answerTo, type Claim, type KeptAnswer, type KeptAnswers } from "./kept-answers.js";
import { canonicalJson, digestOf, keyOf } from "./key.js";

/**
 * Every POST may bear an Idempotency-Key: the same request again gets the answer that was given, and nothing is done twice.
 * What a request changes and the answer to it are kept in one unit of work; where a route's work is in units of its own (a text
 * that must be kept whatever follows, a file that streams in), it is idempotent by itself, and the answer is kept after it.
 *
 * Source: IETF draft-ietf-httpapi-idempotency-key-header-07 (2025)
 */
export class IdempotentRequests implements NestInterceptor {
	constructor(
		private readonly store: Store,
		private readonly kept: KeptAnswers,
	) {}

	intercept(context: ExecutionContext, next: CallHandler): Observable<unknown> {
		const facts = endpointFacts(context.getHandler());
		const request = context.switchToHttp().getRequest<FastifyRequest>();
		const key = facts?.method === "POST" ? keyOf(request.headers["idempotency-key"]) : undefined;
		if (!facts || key === undefined || facts.answer.isSecret) return next.handle();
		const work = () => lastValueFrom(next.handle());
		return from(this.answered(facts, key, request, context.switchToHttp().getResponse<FastifyReply>(), work));
	}

	private async answered(
		facts: EndpointFacts,
		key: string,
		request: FastifyRequest,
		reply: FastifyReply,
		work: () => Promise<unknown>,
	): Promise<unknown> {
		const body = fingerprinted(facts, request);
		const found = await this.kept.claim(digestOf(request.caller?.actor ?? facts.access, facts.path, key), body.known);
		if ("given" in found) {
			const { status, body: before } = answerTo(found.given, await body.whole(true));
			void reply.code(status);
			return before;
		}
		const { claim } = found;
		const answerOf = (told: unknown): KeptAnswer => ({ status: facts.answer.status ?? 200, body: told });
		try {
			if (!inOneUnit(facts)) return await this.afterwards(claim, body, answerOf, work);
			return await this.store.work.run(async (tx) => {
				const told = await work();
				await this.kept.keep(tx, claim, await body.whole(false), answerOf(told));
				return told;
			});
		} catch (error) {
			await this.kept.release(claim);
			throw error;
		}
	}

	private async afterwards(
		claim: Claim,
		body: Fingerprinted,
		answerOf: (told: unknown) => KeptAnswer,
		work: () => Promise<unknown>,
	): Promise<unknown> {
		const told = await work();
		const fingerprint = await body.whole(false);
		await this.store.work.run((tx) => this.kept.keep(tx, claim, fingerprint, answerOf(told)));
		return told;
	}
}

/** Only what is neither a gateway's nor a stream is done in one unit of work with its answer. */
function inOneUnit({ access, consumes }: EndpointFacts): boolean {
	return access !== "gateway" && consumes !== "text/csv";
}

interface Fingerprinted {
	/** At once, where the body has come in already. */
	readonly known: string | null;
	/** Once, when the body has been read to its end. @param unread whether nobody else reads it */
	whole(unread: boolean): Promise<string>;
}

function fingerprinted({ consumes }: EndpointFacts, request: FastifyRequest): Fingerprinted {
	if (consumes !== "text/csv") {
		const content = Buffer.isBuffer(request.body) ? request.body : canonicalJson(request.body);
		const known = digestOf(request.url, content);
		return { known, whole: async () => known };
	}
	const hash = createHash("sha256");
	const file = Readable.from(hashed(request.body as Readable, hash));
	request.body = file;
	return {
		known: null,
		async whole(unread) {
			if (unread) for await (const _ of file);
			return digestOf(request.url, hash.digest());
		},
	};
}

async function* hashed(source: Readable, hash: Hash): AsyncGenerator<Buffer> {
	for await (const chunk of source as AsyncIterable<Buffer>) {
		hash.update(chunk);
		yield chunk;
	}
}
