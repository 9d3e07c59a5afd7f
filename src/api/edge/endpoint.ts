import { applyDecorators, HttpCode, RequestMapping, RequestMethod } from "@nestjs/common";
import { ROUTE_ARGS_METADATA } from "@nestjs/common/constants.js";
import { RouteParamtypes } from "@nestjs/common/enums/route-paramtypes.enum.js";
import { RouteConfig } from "@nestjs/platform-fastify";
import type { FastifyRequest } from "fastify";
import type { z } from "zod";
import { DefectError, InputError } from "../../errors/errors.js";
import type { RouteAccess } from "./access.js";
import type { BodyKind } from "./bodies.js";
import type { Touch } from "./touches.js";

/** One route: where it is, who may use it, what it takes and answers. */
export type EndpointFacts = RouteAccess & EndpointForm;

interface EndpointForm {
	readonly method: "GET" | "POST" | "PUT";
	readonly path: string;
	/** Member of the body that names whoever did what it tells of; without it, the caller did. */
	readonly by?: string;
	/** What it does, in a few words. */
	readonly summary: string;
	readonly description?: string;
	readonly answer: {
		readonly status?: number;
		readonly description: string;
		readonly schema?: z.ZodType;
		readonly contentType?: string;
		/** It holds a secret that is told this once: it is kept nowhere, under no Idempotency-Key either. */
		readonly isSecret?: true;
	};
	/** Where the body isn't JSON by a schema. */
	readonly consumes?: BodyKind;
	/** Header fields it reads, each with what it says. */
	readonly headers?: Readonly<Record<string, string>>;
}

const FACTS = Symbol("facts of an endpoint");

declare module "fastify" {
	interface FastifyContextConfig {
		/** Without: a query is refused whole. */
		takesQuery?: boolean;
		by?: string;
	}
}

/**
 * Makes a method of a controller answer a route. The only way to make one: access, validation and documentation can't be forgotten.
 * @throws DefectError where a body, query or path parameter has no schema, when the controller is loaded
 */
export function Endpoint(facts: EndpointFacts): MethodDecorator {
	return (target, key, descriptor) => {
		const takes = takenBy(target.constructor, key);
		const consumes = facts.consumes ?? (takes.body ? "application/json" : undefined);
		const config = {
			access: facts.access,
			...touchesOf(facts),
			...(facts.by && { by: facts.by }),
			takesQuery: takes.query,
			...(consumes && { consumes }),
		};
		applyDecorators(
			RequestMapping({ method: RequestMethod[facts.method], path: facts.path }),
			HttpCode(facts.answer.status ?? 200),
			RouteConfig(config),
		)(target, key, descriptor);
		Reflect.defineMetadata(FACTS, facts, descriptor.value as object);
	};
}

/** Whoever is named in the body as having done something must be within the caller's part. */
function touchesOf({ touches, by }: EndpointFacts): { touches?: readonly Touch[] } {
	return touches ? { touches: by ? [...touches, `person body.${by}`] : touches } : {};
}

/** @returns what the decorator was told of a method; nothing where it isn't an endpoint */
export function endpointFacts(handler: object): EndpointFacts | undefined {
	return Reflect.getMetadata(FACTS, handler);
}

/** @throws InputError where parameters come with a route that takes none */
export function assertQueryTaken(request: FastifyRequest): void {
	if (request.is404 || request.routeOptions.config.takesQuery !== false) return;
	const problems = Object.keys((request.query ?? {}) as object).map((at) => ({
		at: at.slice(0, 60),
		message: "isn't known here",
	}));
	if (problems.length > 0)
		throw new InputError("invalid-input", "This address takes no parameters.", { problems: problems.slice(0, 100) });
}

function takenBy(controller: object, key: string | symbol): { body: boolean; query: boolean } {
	const parameters: Record<string, { schema?: unknown }> = Reflect.getMetadata(ROUTE_ARGS_METADATA, controller, key) ?? {};
	const ofType = (type: RouteParamtypes) => Object.entries(parameters).filter(([name]) => name.startsWith(`${type}:`));
	for (const type of [RouteParamtypes.BODY, RouteParamtypes.QUERY, RouteParamtypes.PARAM])
		for (const [, { schema }] of ofType(type)) if (!schema) throw new DefectError(`a parameter of ${String(key)} has no schema`);
	return { body: ofType(RouteParamtypes.BODY).length > 0, query: ofType(RouteParamtypes.QUERY).length > 0 };
}
