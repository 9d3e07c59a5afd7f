import type { FastifyInstance, FastifyReply, FastifyRequest } from "fastify";
import { refusalOf } from "../api/edge/problem.js";
import { assertWellFormed } from "../api/edge/well-formed.js";
import { causesOf } from "../log/causes.js";
import type { Log } from "../log/log.js";
import type { Clock } from "../time/clock.js";
import type { Assets } from "./assets.js";
import { encoded, encodingFor } from "./encoded.js";
import { type Form, formOf } from "./form.js";
import { html } from "./html.js";
import { languageOf } from "./language.js";
import { wholePage } from "./layout.js";
import { navigationOf } from "./navigation.js";
import type { Answer, Page, Shown, Visit } from "./page.js";
import type { Visitor, Visitors } from "./visitors.js";
import { type Words, wordsIn } from "./words.js";

/**
 * Own styles, scripts, pictures and forms, and nothing from elsewhere.
 * @param picturesFrom another origin from which this page may load pictures
 * Source: W3C Content Security Policy Level 3
 */
const policyOf = ({ styleHash }: Assets, picturesFrom = ""): string =>
	`default-src 'none'; script-src 'self'; style-src 'self' '${styleHash}'; img-src 'self'${picturesFrom && ` ${picturesFrom}`}; connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'`;

export interface Site {
	readonly visitors: Visitors;
	readonly assets: Assets;
	readonly clock: Clock;
	readonly log: Log;
}

/** Answers pages and what they load. A stranger is shown the way to sign in; whoever has another role, that it isn't hers. */
export function addPages(instance: FastifyInstance, pages: readonly Page[], site: Site): void {
	for (const one of pages) {
		const { method, path } = one;
		instance.route({
			method,
			url: path,
			config: { access: "page", takesQuery: true, ...(method === "POST" && { consumes: one.takesFile ? "upload" : "form" }) },
			errorHandler: (error, request, reply) => failed(error, request, reply, site),
			handler: async (request, reply) => {
				const visitor = await site.visitors.of(request);
				const visit = visitOf(request, reply, visitor, site, await formOf(request));
				return answered(await answerOf(one, visit), visit, site);
			},
		});
	}
	for (const { address, type, isLasting, bodies } of site.assets.all.values())
		instance.get(address, { config: { access: "page", takesQuery: false } }, (request, reply) => {
			const encoding = encodingFor(request.headers["accept-encoding"]);
			return reply
				.headers({
					"content-type": type,
					vary: "accept-encoding",
					"cache-control": isLasting ? "public, max-age=31536000, immutable" : "no-cache",
					"content-security-policy": policyOf(site.assets),
					...(encoding !== "identity" && { "content-encoding": encoding }),
				})
				.send(bodies[encoding]);
		});
}

function visitOf(
	request: FastifyRequest,
	reply: FastifyReply,
	visitor: Visitor | undefined,
	{ clock }: Site,
	{ form, file }: Form,
): Visit<Visitor | undefined> {
	assertWellFormed(Object.fromEntries(form), "body");
	return {
		visitor,
		words: wordsIn(languageOf(request, visitor), visitor?.timeZone ?? "UTC"),
		named: request.params as Record<string, string>,
		query: new URLSearchParams(request.url.split("?", 2)[1] ?? ""),
		form,
		file,
		nowMs: clock.nowMs(),
		wantsJson: request.headers.accept === "application/json",
		request,
		reply,
	};
}

async function answerOf(one: Page, visit: Visit<Visitor | undefined>): Promise<Answer> {
	const { visitor, words, wantsJson } = visit;
	if (one.roles !== "anybody" && !visitor)
		return wantsJson ? { json: { outcome: "signed out" }, status: 401 } : { seeOther: "/sign-in" };
	if (one.roles !== "anybody" && visitor && !one.roles.includes(visitor.role))
		return wantsJson
			? { json: { outcome: "failed" }, status: 403 }
			: { title: words("error.refused"), main: html`<p>${words("error.notYours")}</p>${wayBack(words, visitor)}`, status: 403 };
	return one.roles === "anybody" ? one.answer(visit) : one.answer(visit as Visit);
}

async function answered(answer: Answer, visit: Visit<Visitor | undefined>, site: Site): Promise<FastifyReply> {
	const { reply, visitor, words } = visit;
	if ("seeOther" in answer) return reply.redirect(answer.seeOther, 303);
	if ("json" in answer)
		return reply
			.code(answer.status)
			.header("content-type", "application/json")
			.send(Buffer.from(JSON.stringify(answer.json)));
	return sendPage(reply, visit.request, answer, words, visitor, site);
}

async function sendPage(
	reply: FastifyReply,
	request: FastifyRequest,
	shown: Shown,
	words: Words,
	visitor: Visitor | undefined,
	{ assets }: Site,
): Promise<FastifyReply> {
	// What was posted can't be looked at again: from there a choice of language leads to the start.
	const here = request.method === "GET" ? (request.url.split("?", 1)[0] as string) : "/";
	const { text } = wholePage(shown, words, visitor, { formToken: request.formToken, here, assets });
	const { body, encoding } = await encoded(text, encodingFor(request.headers["accept-encoding"]));
	return reply
		.code(shown.status ?? 200)
		.headers({
			"content-type": "text/html; charset=utf-8",
			"content-security-policy": policyOf(assets, shown.picturesFrom),
			"content-language": words.language,
			// With none at all a browser hides where a form comes from, from ourselves too.
			"referrer-policy": "same-origin",
			vary: "accept-encoding, accept-language, cookie",
			...(encoding !== "identity" && { "content-encoding": encoding }),
		})
		.send(body);
}

/** Whatever went wrong is told as a page: what it was, and the way back. */
async function failed(error: unknown, request: FastifyRequest, reply: FastifyReply, site: Site): Promise<FastifyReply> {
	const { status, headers, body } = refusalOf(error, request.id);
	const facts = { requestId: request.id, status, code: body.code };
	if (status === 500) site.log.error({ ...facts, err: causesOf(error) }, "a page failed by a defect");
	else if (status === 503) site.log.warn({ ...facts, err: causesOf(error) }, "a page failed for now");
	else site.log.info(facts, "a page was refused");
	const visitor = await site.visitors.of(request).catch(() => undefined);
	const words = wordsIn(languageOf(request, visitor), visitor?.timeZone ?? "UTC");
	void reply.headers(headers);
	if (request.headers.accept === "application/json")
		return reply
			.code(status)
			.header("content-type", "application/json")
			.send(Buffer.from(JSON.stringify({ outcome: "failed" })));
	// The door takes no form without the token of this session: a page of before it has another.
	const name =
		status === 404 ? "error.nothingHere" : status >= 500 ? "error.failed" : status === 403 ? "error.formTooOld" : "error.refused";
	const why = name === "error.refused" ? body.detail : "";
	const main = html`${why && html`<p>${why}</p>`}<p>${words(`${name}.what`)}</p>${wayBack(words, visitor)}`;
	return sendPage(reply, request, { title: words(name), main, status }, words, visitor, site);
}

function wayBack(words: Words, visitor: Visitor | undefined) {
	const first = visitor && navigationOf(visitor.role)[0];
	return html`<p><a class="button" href="${first?.to ?? "/sign-in"}">${words("page.back")}</a></p>`;
}
