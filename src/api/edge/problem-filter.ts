import { type ArgumentsHost, Catch, type ExceptionFilter } from "@nestjs/common";
import type { FastifyReply, FastifyRequest } from "fastify";
import { causesOf } from "../../log/causes.js";
import type { Log } from "../../log/log.js";
import { EdgeRefusal, refusalOf } from "./problem.js";
import type { Routes } from "./routes.js";

/** Answers every error as problem details, and logs it by its weight. */
@Catch()
export class ProblemFilter implements ExceptionFilter {
	constructor(
		private readonly log: Log,
		private readonly routes: Routes,
	) {}

	catch(thrown: unknown, host: ArgumentsHost): void {
		const request = host.switchToHttp().getRequest<FastifyRequest>();
		const reply = host.switchToHttp().getResponse<FastifyReply>();
		const error = request.is404 ? this.nothingHere(request, thrown) : thrown;
		const { status, headers, body } = refusalOf(error, request.id);
		this.note(request.id, status, body.code, error);
		if (reply.sent) return;
		reply
			.code(status)
			.headers(headers)
			.header("content-type", "application/problem+json")
			.send(Buffer.from(JSON.stringify(body)));
	}

	/** No route fits: another method may. */
	private nothingHere(request: FastifyRequest, thrown: unknown): unknown {
		const allowed = this.routes.methodsAt(request.url);
		if (allowed.length === 0 || allowed.includes(request.method)) return thrown;
		return new EdgeRefusal(405, "method-not-allowed", `This address takes ${allowed.join(", ")}.`, { allow: allowed.join(", ") });
	}

	private note(requestId: string, status: number, code: string, error: unknown): void {
		const facts = { requestId, status, code };
		if (status === 500) this.log.error({ ...facts, err: causesOf(error) }, "a request failed by a defect");
		else if (status === 503) this.log.warn({ ...facts, err: causesOf(error) }, "a request failed for now");
		else this.log.info(facts, "a request was refused");
	}
}
