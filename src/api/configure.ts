import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import type { FastifyInstance } from "fastify";
import { Callers } from "../access/callers.js";
import { from } from "../ledger/origin.js";
import type { Log } from "../log/log.js";
import { Store } from "../store/store.js";
import { type Door, letBodyIn, letIn, type Secrets } from "./edge/access.js";
import { InCallersName } from "./edge/acting.js";
import { addBodyParsers, mediaTypeRefusal } from "./edge/bodies.js";
import { addDocs } from "./edge/docs.js";
import { assertQueryTaken } from "./edge/endpoint.js";
import { defaultHeaders } from "./edge/headers.js";
import { openApiDocument } from "./edge/open-api.js";
import { Pace } from "./edge/pace.js";
import { ProblemFilter } from "./edge/problem-filter.js";
import { logRequest, routePattern } from "./edge/request-log.js";
import { Routes } from "./edge/routes.js";
import { SchemaPipe } from "./edge/schema-pipe.js";
import { assertWellFormed } from "./edge/well-formed.js";
import { IdempotentRequests } from "./idempotency/interceptor.js";
import { Metrics } from "./metrics/metrics.js";
import { apiControllers } from "./module.js";

const DEFAULT_REQUESTS_PER_MINUTE = 600;

/**
 * Makes an application answer as this interface does: who may ask, what is taken, how a refusal looks, what is logged and counted.
 * To be called after the application is made and before it is initialised; made with `bodyParser: false`.
 * @returns every route, complete once the application is initialised
 */
export function configureApi(app: NestFastifyApplication, secrets: Secrets, log: Log): Routes {
	const instance = app.getHttpAdapter().getInstance() as unknown as FastifyInstance;
	const routes = new Routes();
	const metrics = app.get(Metrics, { strict: false });
	const door: Door = {
		secrets,
		callers: app.get(Callers, { strict: false }),
		store: app.get(Store, { strict: false }),
		pace: new Pace(secrets.requestsPerMinute ?? DEFAULT_REQUESTS_PER_MINUTE),
	};
	app.useGlobalInterceptors(new InCallersName(), app.get(IdempotentRequests, { strict: false }));
	app.useGlobalPipes(new SchemaPipe());
	app.useGlobalFilters(new ProblemFilter(log, routes));
	instance.decorateRequest("caller", null);
	instance.decorateRequest("formToken", null);
	instance.decorateRequest("peer", "");
	addBodyParsers(instance);
	instance.addHook("onRoute", (options) => routes.add(options));
	instance.addHook("onRequest", async (request, reply) => {
		reply.headers(defaultHeaders(request.id));
		await letIn(request, door);
		const refusal = mediaTypeRefusal(request);
		if (refusal) throw refusal;
		assertQueryTaken(request);
	});
	instance.addHook("preHandler", async (request) => {
		assertWellFormed(request.params, "parameter");
		assertWellFormed(request.query, "parameter");
		// Before the things that it names are looked up.
		if (request.routeOptions.config.consumes === "application/json") assertWellFormed(request.body, "body");
		await letBodyIn(request, door);
	});
	// The last before the handler: what reads a body runs the hooks after it from elsewhere.
	instance.addHook("preHandler", (request, _reply, done) => {
		from(`${request.method} ${routePattern(request)}, request ${request.id}`, done);
	});
	instance.addHook("onResponse", async (request, reply) => {
		logRequest(log, request, reply);
		metrics.answered(request.method, routePattern(request), reply.statusCode, reply.elapsedTime / 1000);
	});
	addDocs(instance, () => openApiDocument(app, apiControllers));
	return routes;
}
