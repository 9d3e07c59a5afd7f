import { type CallHandler, Controller, Get, Module, Query } from "@nestjs/common";
import { NestFactory } from "@nestjs/core";
import { type NestFastifyApplication, RouteConfig } from "@nestjs/platform-fastify";
import { pino } from "pino";
import { Callers } from "../../src/access/callers.js";
import { configureApi } from "../../src/api/configure.js";
import { fastifyAdapter } from "../../src/api/edge/adapter.js";
import { Endpoint } from "../../src/api/edge/endpoint.js";
import { endpointsOf } from "../../src/api/edge/open-api.js";
import { IdempotentRequests } from "../../src/api/idempotency/interceptor.js";
import { Metrics } from "../../src/api/metrics/metrics.js";
import { apiControllers } from "../../src/api/module.js";
import { Store } from "../../src/store/store.js";
import { ABOUT_THE_INTERFACE } from "./answer-checker.js";
import { type Served, served } from "./served.js";

/** Where people who aren't signed in yet show who they are. */
const WAYS_IN = ["/sessions", "/sessions/by-code", "/sign-in-codes", "/password", "/password/forgotten"];

describe("the routes", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite");
	});
	afterAll(() => api.close());

	it("are open to anybody only where they say that the service lives and how it is spoken to, and where people sign in; gateways have three of their own", () => {
		const open = api.routes.known.filter(({ access }) => access === "open").map(({ pattern }) => pattern);
		expect([...new Set(open)].sort()).toEqual([...ABOUT_THE_INTERFACE, "/health/live", "/health/ready", ...WAYS_IN].sort());
		expect([...new Set(api.routes.known.filter(({ access }) => access === "calendar").map(({ pattern }) => pattern))]).toEqual([
			"/calendars/:file",
		]);
		expect(api.routes.known.filter(({ access }) => access === "gateway")).toEqual([
			{ method: "POST", pattern: "/replies/:channel", access: "gateway", touches: [] },
			{ method: "POST", pattern: "/receipts/:gateway", access: "gateway", touches: [] },
			{ method: "POST", pattern: "/inbound/:gateway", access: "gateway", touches: [] },
		]);
	});

	it("are described in the OpenAPI document, all of them and no others", () => {
		const answered = api.routes.known
			.filter(({ method, pattern }) => method !== "HEAD" && !ABOUT_THE_INTERFACE.includes(pattern))
			.map(({ method, pattern }) => `${method} ${pattern.replace(/:(\w+)/g, "{$1}")}`);
		const described = Object.entries(api.document.paths).flatMap(([path, operations]) =>
			Object.keys(operations).map((method) => `${method.toUpperCase()} ${path}`),
		);
		expect(described.sort()).toEqual(answered.sort());
	});

	it("are asked for a key in the document just where the service asks for one", () => {
		const schemes: Record<string, object[]> = {
			open: [],
			page: [],
			calendar: [],
			gateway: [{ inboundSecret: [] }],
			own: [{ session: [] }],
		};
		for (const { method, pattern, access } of api.routes.known) {
			const operation = api.document.paths[pattern.replace(/:(\w+)/g, "{$1}")]?.[method.toLowerCase()];
			if (operation)
				expect({ pattern, security: operation["security"] }).toEqual({
					pattern,
					security: schemes[access] ?? [{ key: [] }, { session: [] }],
				});
		}
	});

	it("are all made by the one decorator that knows their access, body and answer", () => {
		for (const controller of apiControllers) expect(endpointsOf(controller).length).toBeGreaterThan(0);
		const made = apiControllers.flatMap(endpointsOf).length;
		expect(made).toBe(Object.values(api.document.paths).flatMap((operations) => Object.keys(operations)).length);
	});
});

/** An application with one controller beside nothing else of ours. */
async function startedWith(controller: new () => object): Promise<NestFastifyApplication> {
	@Module({
		controllers: [controller],
		providers: [
			{ provide: Metrics, useValue: { answered: () => undefined } },
			{ provide: IdempotentRequests, useValue: { intercept: (_: unknown, next: CallHandler) => next.handle() } },
			{ provide: Callers, useValue: {} },
			{ provide: Store, useValue: {} },
		],
	})
	class Alone {}
	const app = await NestFactory.create<NestFastifyApplication>(Alone, fastifyAdapter(), {
		bodyParser: false,
		logger: false,
		abortOnError: false,
	});
	configureApi(app, { apiKey: undefined, inboundSecret: undefined }, pino({ level: "silent" }));
	return app.init() as Promise<NestFastifyApplication>;
}

describe("a route that says too little", () => {
	it("keeps the service from starting where it doesn't say who may use it", async () => {
		@Controller()
		class Forgetful {
			@Get("/forgotten")
			forgotten() {
				return {};
			}
		}
		await expect(startedWith(Forgetful)).rejects.toThrow("the route GET /forgotten doesn't say who may use it");
	});

	it.each([
		["no part of the programme", [], "the route GET /forgotten doesn't say what it touches"],
		["a part that nothing is", ["village path.code"], 'a route says that it touches "village path.code", which nothing here is'],
	])("keeps the service from starting where it says that it touches %s", async (_, touches, message) => {
		@Controller()
		class Forgetful {
			@Get("/forgotten")
			@RouteConfig({ access: "look", touches })
			forgotten() {
				return {};
			}
		}
		await expect(startedWith(Forgetful)).rejects.toThrow(message);
	});

	it("can't be written where a parameter has no schema", () => {
		expect(() => {
			class Careless {
				@Endpoint({ method: "GET", path: "/careless", access: "open", summary: "-", answer: { description: "-" } })
				careless(@Query() asked: unknown) {
					return asked;
				}
			}
			return Careless;
		}).toThrow("a parameter of careless has no schema");
	});
});
