import { timingSafeEqual } from "node:crypto";
import type { FastifyRequest } from "fastify";
import { formTokenOf } from "../../access/sessions.js";
import { EdgeRefusal } from "./problem.js";

const SAFE = new Set(["GET", "HEAD", "OPTIONS"]);

/** The field of a form, and the header field, in which the session's form token comes. */
export const FORM_TOKEN = { field: "token", header: "x-form-token" } as const;

/**
 * @returns why a request that changes something isn't believed to be the person's own: another site's page made her browser send it;
 * nothing where it is, or where it changes nothing
 *
 * Source: OWASP ASVS 5.0.0 (2025), 3.5.1 and 3.5.3; W3C Fetch Metadata Request Headers, section 2.1; RFC 6454, section 7
 */
export function otherSiteRefusal(request: FastifyRequest): EdgeRefusal | undefined {
	if (SAFE.has(request.method)) return undefined;
	const { origin, "sec-fetch-site": site } = request.headers;
	if (typeof site === "string" && site !== "same-origin" && site !== "none") return refused();
	if (origin !== undefined && hostOf(origin) !== request.host.toLowerCase()) return refused();
	return undefined;
}

/**
 * @param secret of the session by whose cookie the request came
 * @returns why it isn't believed: a form, or what says nothing of where it comes from, lacks the session's token; nothing where it has it
 */
export function formTokenRefusal(request: FastifyRequest, secret: string): EdgeRefusal | undefined {
	if (SAFE.has(request.method)) return undefined;
	const isForm = /^application\/x-www-form-urlencoded\b/i.test(request.headers["content-type"] ?? "");
	const saysFrom = request.headers["sec-fetch-site"] !== undefined || request.headers.origin !== undefined;
	if (!isForm && saysFrom) return undefined;
	const given = request.headers[FORM_TOKEN.header] ?? (isForm ? fieldOf(request.body) : undefined);
	const right = Buffer.from(formTokenOf(secret));
	const bytes = Buffer.from(typeof given === "string" ? given : "");
	return bytes.length === right.length && timingSafeEqual(bytes, right) ? undefined : refused();
}

function fieldOf(body: unknown): unknown {
	if (Buffer.isBuffer(body)) return new URLSearchParams(body.toString("utf8")).get(FORM_TOKEN.field);
	return typeof body === "object" && body !== null ? (body as Record<string, unknown>)[FORM_TOKEN.field] : undefined;
}

function hostOf(origin: string): string | undefined {
	return URL.canParse(origin) ? new URL(origin).host.toLowerCase() : undefined;
}

function refused(): EdgeRefusal {
	return new EdgeRefusal(
		403,
		"not-allowed",
		"The request came from another site, or can't show that it didn't; nothing was changed. Use the page itself.",
	);
}
