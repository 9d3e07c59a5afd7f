import { NestFactory } from "@nestjs/core";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import { pino } from "pino";
import { isRule } from "../../src/access/rules.js";
import { configureApi } from "../../src/api/configure.js";
import type { Access, Secrets } from "../../src/api/edge/access.js";
import { fastifyAdapter } from "../../src/api/edge/adapter.js";
import type { OpenApiDocument } from "../../src/api/edge/open-api.js";
import type { Routes } from "../../src/api/edge/routes.js";
import { configurePages } from "../../src/pages/configure.js";
import type { DatabaseKind } from "../support/stores.js";
import { newPlace, settle, type World, worldIn } from "../support/world.js";
import { answerChecker } from "./answer-checker.js";

export const KEY = "an-invented-key-of-thirty-two-ch";
export const GATEWAY_SECRET = "an-invented-secret-of-a-gateway-1";

export interface Asked {
	readonly body?: unknown;
	/** Sent as it is, with its own content type. */
	readonly raw?: string | Buffer;
	readonly headers?: Readonly<Record<string, string>>;
	/** Address of the peer. */
	readonly from?: string;
}

export interface Answer {
	readonly status: number;
	readonly headers: Readonly<Record<string, unknown>>;
	readonly text: string;
	// biome-ignore lint/suspicious/noExplicitAny: what a test expects of it, it says itself
	readonly body: any;
}

/** The interface on a database of its own; every answer is held against the document that the service itself publishes. */
export interface Served {
	readonly world: World;
	readonly app: NestFastifyApplication;
	readonly routes: Routes;
	readonly document: OpenApiDocument;
	/** What was logged, one parsed line each. */
	readonly lines: Record<string, unknown>[];
	ask(method: "GET" | "POST" | "PUT" | "HEAD" | "DELETE" | "PATCH" | "OPTIONS", url: string, asked?: Asked): Promise<Answer>;
	close(): Promise<void>;
}

/** What the service publishes of itself: the same in every world, and long in the making. */
let published: { readonly document: OpenApiDocument; readonly check: ReturnType<typeof answerChecker> } | undefined;

async function publishedBy(app: NestFastifyApplication) {
	const document = (await app.inject({ method: "GET", url: "/openapi.json" })).json() as OpenApiDocument;
	return { document, check: answerChecker(document) };
}

export async function served(
	kind: DatabaseKind,
	secrets: Secrets = { apiKey: KEY, inboundSecret: GATEWAY_SECRET },
	{ withPages = false }: { readonly withPages?: boolean } = {},
): Promise<Served> {
	const place = await newPlace(kind);
	// The same requests bear the same ids, which the ledger keeps.
	let requests = 0;
	const lines: Record<string, unknown>[] = [];
	const log = pino({ level: "debug", base: null }, { write: (line: string) => void lines.push(JSON.parse(line)) });
	const app = await NestFactory.create<NestFastifyApplication>(
		place.module(true, { roles: ["api"], ...(secrets.channels && { channels: secrets.channels }) }),
		fastifyAdapter(() => `00000000-0000-4000-8000-${String(++requests).padStart(12, "0")}`),
		{
			bodyParser: false,
			logger: false,
			abortOnError: false,
		},
	);
	const world = worldIn(place, app);
	await settle(world);
	const routes = configureApi(app, { requestsPerMinute: 1_000_000, ...secrets }, log);
	if (withPages) await configurePages(app, log);
	await app.init();
	await app.getHttpAdapter().getInstance().ready();
	published ??= await publishedBy(app);
	const { document, check } = published;
	return {
		world,
		app,
		routes,
		document,
		lines,
		async ask(method, url, { body, raw, headers = {}, from } = {}) {
			const access = routes.known.find((route) => route.method === method && fits(route.pattern, url))?.access ?? "open";
			const answer = await app.inject({
				method,
				url,
				headers: {
					...credentials(access, secrets),
					...(body === undefined ? {} : { "content-type": "application/json" }),
					...headers,
				},
				...(body === undefined ? {} : { payload: JSON.stringify(body) }),
				...(raw === undefined ? {} : { payload: raw }),
				...(from === undefined ? {} : { remoteAddress: from }),
			});
			const isJson = /\bjson\b/.test(String(answer.headers["content-type"])) && method !== "HEAD";
			const told = {
				status: answer.statusCode,
				headers: answer.headers,
				text: answer.body,
				body: isJson ? answer.json() : undefined,
			};
			if (access !== "page") check(method, url, told);
			return told;
		},
		async close() {
			await world.remove();
		},
	};
}

function credentials(access: Access, { apiKey, inboundSecret }: Secrets): Record<string, string> {
	if (isRule(access) && apiKey) return { authorization: `Bearer ${apiKey}` };
	return access === "gateway" && inboundSecret ? { "x-inbound-secret": inboundSecret } : {};
}

export function fits(pattern: string, url: string): boolean {
	const path = url.split("?")[0] as string;
	return new RegExp(`^${pattern.replace(/:[^/]+/g, "[^/]+").replace("*", ".*")}$`).test(path);
}
