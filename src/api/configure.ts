import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import type { FastifyInstance } from "fastify";
import type { Log } from "../log/log.js";
import { accessRefusal, bodyRefusal, type Secrets } from "./edge/access.js";
import { addBodyParsers, mediaTypeRefusal } from "./edge/bodies.js";
import { addDocs } from "./edge/docs.js";
import { assertQueryTaken } from "./edge/endpoint.js";
import { defaultHeaders } from "./edge/headers.js";
import { openApiDocument } from "./edge/open-api.js";
import { ProblemFilter } from "./edge/problem-filter.js";
import { logRequest, routePattern } from "./edge/request-log.js";
import { Routes } from "./edge/routes.js";
import { SchemaPipe } from "./edge/schema-pipe.js";
import { assertWellFormed } from "./edge/well-formed.js";
import { IdempotentRequests } from "./idempotency/interceptor.js";
import { Metrics } from "./metrics/metrics.js";
import { apiControllers } from "./module.js";

/**
 * Makes an application answer as this interface does: who may ask, what is taken, how a refusal looks, what is logged and counted.
 * To be called after the application is made and before it is initialised; made with `bodyParser: false`.
 * @returns every route, complete once the application is initialised
 */
export function configureApi(app: NestFastifyApplication, secrets: Secrets, log: Log): Routes {
	const instance = app.getHttpAdapter().getInstance() as unknown as FastifyInstance;
	const routes = new Routes();
	const metrics = app.get(Metrics, { strict: false });
	app.useGlobalInterceptors(app.get(IdempotentRequests, { strict: false }));
	app.useGlobalPipes(new SchemaPipe());
	app.useGlobalFilters(new ProblemFilter(log, routes));
	addBodyParsers(instance);
	instance.addHook("onRoute", (options) => routes.add(options));
	instance.addHook("onRequest", async (request, reply) => {
		reply.headers(defaultHeaders(request.id));
		const refusal = accessRefusal(request, secrets) ?? mediaTypeRefusal(request);
		if (refusal) throw refusal;
		assertQueryTaken(request);
	});
	instance.addHook("preHandler", async (request) => {
		const refusal = bodyRefusal(request, secrets);
		if (refusal) throw refusal;
		assertWellFormed(request.params, "parameter");
		assertWellFormed(request.query, "parameter");
		if (request.routeOptions.config.consumes === "application/json") assertWellFormed(request.body, "body");
	});
	instance.addHook("onResponse", async (request, reply) => {
		logRequest(log, request, reply);
		metrics.answered(request.method, routePattern(request), reply.statusCode, reply.elapsedTime / 1000);
	});
	addDocs(instance, () => openApiDocument(app, apiControllers));
	return routes;
}
