import { HttpException } from "@nestjs/common";
import { z } from "zod";
import { type ErrorCode, InputError, type Problem, TransientError } from "../../errors/errors.js";

/** What is refused because of how it was asked over HTTP, before the programme's own rules come into it. */
export type EdgeCode =
	| "malformed"
	| "key-needed"
	| "nothing-here"
	| "method-not-allowed"
	| "media-type"
	| "address-too-long"
	| "request-refused"
	| "request-going-on"
	| "not-ready"
	| "sign-in-refused"
	| "code-needed"
	| "too-many-tries"
	| "too-many-requests";

/** A refusal that only HTTP knows: its status, and header fields that belong to the answer. */
export class EdgeRefusal extends Error {
	constructor(
		readonly status: number,
		readonly code: EdgeCode | ErrorCode,
		message: string,
		readonly headers: Readonly<Record<string, string>> = {},
		/** Further members of the problem, as RFC 9457, section 3.2 allows. */
		readonly members: Readonly<Record<string, unknown>> = {},
	) {
		super(message);
	}
}

/** The body of every 4xx and 5xx. Source: RFC 9457 (2023), section 3.1; `pointer` as in its section 3 example, without the "#". */
export const problemSchema = z
	.looseObject({
		type: z.string().meta({ description: "urn:jarwatch:problem: and the code" }),
		title: z.string(),
		status: z.int().min(400).max(599),
		detail: z.string(),
		code: z.string().meta({ description: "The same for the same kind of problem, for programs" }),
		instance: z.string().meta({ description: "urn:uuid: and the id under which the request stands in the log" }),
		errors: z
			.array(
				z.strictObject({
					pointer: z.string().optional().meta({ description: "JSON Pointer (RFC 6901) into the body" }),
					parameter: z.string().optional().meta({ description: "Name of the parameter in the address or of the header field" }),
					detail: z.string(),
				}),
			)
			.optional(),
	})
	.meta({ id: "Problem" });

export type ProblemBody = z.output<typeof problemSchema>;

export interface Refusal {
	readonly status: number;
	readonly headers: Readonly<Record<string, string>>;
	readonly body: ProblemBody;
}

/** A client that is told nothing else waits this long. */
const RETRY_AFTER_S = 5;

/**
 * How an error is answered. Its kind alone decides the status; what isn't one of ours says nothing about itself.
 * @param requestId as the log has it
 */
export function refusalOf(error: unknown, requestId: string): Refusal {
	if (error instanceof EdgeRefusal)
		return {
			status: error.status,
			headers: error.headers,
			body: body(error.status, error.code, error.message, requestId, error.members),
		};
	if (error instanceof InputError)
		return {
			status: error.status,
			headers: {},
			body: body(
				error.status,
				error.code,
				error.message,
				requestId,
				error.problems.length > 0 ? { errors: error.problems.map(located) } : {},
			),
		};
	if (error instanceof TransientError) {
		const seconds = Math.max(1, Math.ceil((error.retryAfterMs ?? RETRY_AFTER_S * 1000) / 1000));
		return { status: 503, headers: { "retry-after": String(seconds) }, body: body(503, error.code, error.message, requestId) };
	}
	const status = statusOf(error);
	if (status !== undefined) {
		const [code, detail] = REFUSED_BY_STATUS[status] ?? ["request-refused", "The request was refused before it was looked at."];
		return { status, headers: {}, body: body(status, code, detail, requestId) };
	}
	return {
		status: 500,
		headers: {},
		body: body(500, "defect", "Something is wrong in the program. The log has it under this instance.", requestId),
	};
}

/** What the framework refuses by itself; its own words may quote what came in. */
const REFUSED_BY_STATUS: Readonly<Record<number, readonly [EdgeCode | ErrorCode, string]>> = {
	400: [
		"malformed",
		"The request can't be read: its address must be well formed and its body must be JSON (RFC 8259) in UTF-8, without __proto__ or constructor.",
	],
	404: ["nothing-here", "There is nothing at this address."],
	408: ["request-refused", "The request took too long to arrive."],
	413: ["too-large", "The body is longer than this address takes."],
	414: ["address-too-long", "A part of the address is longer than any name here."],
	415: ["media-type", "The body is of a kind that this address doesn't take."],
	431: ["request-refused", "The header fields are longer than 16 KiB."],
};

/** Nest's and Fastify's own refusals carry a status; an unknown error that happens to have one of 5xx is a defect. */
function statusOf(error: unknown): number | undefined {
	const status = error instanceof HttpException ? error.getStatus() : (error as { statusCode?: unknown } | null)?.statusCode;
	return typeof status === "number" && status >= 400 && status < 500 ? status : undefined;
}

function body(
	status: number,
	code: string,
	detail: string,
	requestId: string,
	members: Readonly<Record<string, unknown>> = {},
): ProblemBody {
	const title = `${code[0]?.toUpperCase()}${code.slice(1).replaceAll("-", " ")}`;
	return { type: `urn:jarwatch:problem:${code}`, title, status, detail, code, instance: `urn:uuid:${requestId}`, ...members };
}

function located({ at, message }: Problem): { pointer?: string; parameter?: string; detail: string } {
	return at === "" || at.startsWith("/") ? { pointer: at, detail: message } : { parameter: at, detail: message };
}

/** @returns the JSON Pointer of a path, with `~` and `/` escaped. Source: RFC 6901 (2013), sections 3 and 4 */
export function pointerOf(path: readonly PropertyKey[]): string {
	return path.map((part) => `/${String(part).replaceAll("~", "~0").replaceAll("/", "~1")}`).join("");
}
