import type { INestApplication, Type } from "@nestjs/common";
import { z } from "zod";
import { isRule, RULES } from "../../access/rules.js";
import { DefectError } from "../../errors/errors.js";
import type { Access } from "./access.js";
import { type BodyKind, MEDIA_TYPES } from "./bodies.js";
import { type EndpointFacts, endpointFacts } from "./endpoint.js";
import { problemSchema } from "./problem.js";

type Json = Record<string, unknown>;
type Operation = Json & { parameters?: Json[]; responses: Record<string, Json> };
export type OpenApiDocument = Json & { paths: Record<string, Record<string, Operation>>; components: { schemas: Json } };

/** Of bodies that no schema of ours describes: what a gateway posts, its own settings describe. */
const BODY_SCHEMAS: Readonly<Record<BodyKind, Json>> = {
	"application/json": {},
	"text/csv": { type: "string" },
	gateway: { type: "object", description: "As the gateway's settings say" },
	form: { type: "object" },
	upload: { type: "object" },
};

const SECURITY: Readonly<Partial<Record<Access, Json[]>>> = {
	open: [],
	page: [],
	calendar: [],
	gateway: [{ inboundSecret: [] }],
};

/** A key, where one can be given for it; else, or as well, whoever is signed in. */
function securityOf(access: Access): Json[] {
	const isOwn = access === "own";
	return SECURITY[access] ?? [...(isOwn ? [] : [{ key: [] }]), { session: [] }];
}

/** Who may, in a sentence. */
function allowedTo(access: Access): string {
	if (!isRule(access)) return "";
	const { roles, scope } = RULES[access];
	return `For: ${roles.join(", ")}${scope === null ? "" : `; a key with "${scope}"`}.`;
}

/**
 * The description of every endpoint, made of the same schemas that parse what comes in.
 * The library that makes it costs a fifth of a second to load, so it is loaded when somebody asks, not at the start.
 * Source: OpenAPI Specification 3.1.0 (2021); JSON Schema draft 2020-12
 */
export async function openApiDocument(app: INestApplication, controllers: readonly Type[]): Promise<OpenApiDocument> {
	const swagger = await import("@nestjs/swagger");
	const endpoints = controllers.flatMap(endpointsOf);
	const known = new Map<string, string>();
	for (const { controller, handler, key, facts } of endpoints) {
		const decorators = [
			swagger.ApiOperation({
				summary: facts.summary,
				description: [facts.description ?? "", allowedTo(facts.access)].filter((text) => text !== "").join(" "),
			}),
			swagger.ApiResponse({
				status: facts.answer.status ?? 200,
				description: facts.answer.description,
				...(facts.answer.schema && { standardSchema: facts.answer.schema }),
			}),
			...(facts.answer.contentType ? [swagger.ApiProduces(facts.answer.contentType)] : []),
		];
		for (const decorate of decorators) decorate(controller.prototype, key, { value: handler });
	}
	const config = new swagger.DocumentBuilder()
		.setOpenAPIVersion("3.1.0")
		.setTitle("Jarwatch")
		.setDescription(
			"Keeps home-made chlorine honest: how strong each jar of bleach is today, what dose, when to test again, who is told. " +
				"Strength of bleach is in g/L as chlorine, dose and residual in mg/L, instants in ISO 8601 UTC. " +
				"Every refusal is problem details (RFC 9457).",
		)
		.setVersion("1")
		.addBearerAuth({ type: "http", scheme: "bearer", bearerFormat: "key" }, "key")
		.addApiKey({ type: "apiKey", in: "header", name: "X-Inbound-Secret" }, "inboundSecret")
		.addApiKey({ type: "apiKey", in: "cookie", name: "__Host-session" }, "session")
		.build();
	const document = swagger.SwaggerModule.createDocument(app, config, {
		operationIdFactory: (_controller, method) => method,
		autoTagControllers: false,
		standardSchemaConverter: (schema, { schemaType }) => converted(schema as z.ZodType, schemaType, known),
	}) as unknown as OpenApiDocument;
	const problem = converted(problemSchema, "output", known);
	document.components.schemas = { ...document.components.schemas, ...problem.components };
	for (const { facts } of endpoints) completeOperation(operationOf(document, facts), facts);
	return document;
}

interface FoundEndpoint {
	readonly controller: Type;
	readonly key: string;
	readonly handler: object;
	readonly facts: EndpointFacts;
}

/** @returns the endpoints of a controller in the order of their writing */
export function endpointsOf(controller: Type): FoundEndpoint[] {
	return Object.getOwnPropertyNames(controller.prototype).flatMap((key) => {
		const handler = controller.prototype[key] as object;
		const facts = typeof handler === "function" ? endpointFacts(handler) : undefined;
		return facts ? [{ controller, key, handler, facts }] : [];
	});
}

/** What comes in and what goes out may differ by a default: one name for both would describe one of them wrongly. */
function converted(schema: z.ZodType, io: "input" | "output", known: Map<string, string>): { schema: Json; components: Json } {
	const { $schema: _, $defs = {}, ...plain } = z.toJSONSchema(schema, { io, target: "draft-2020-12", unrepresentable: "any" });
	for (const [name, component] of Object.entries($defs)) {
		const shape = JSON.stringify(component);
		if ((known.get(name) ?? shape) !== shape) throw new DefectError(`two shapes are described under one name, ${name}`);
		known.set(name, shape);
	}
	return { schema: plain, components: $defs };
}

function operationOf(document: OpenApiDocument, { method, path }: EndpointFacts): Operation {
	const address = path.replace(/:(\w+)/g, "{$1}");
	return document.paths[address]?.[method.toLowerCase()] as Operation;
}

/** Every POST takes one; see `IdempotentRequests`. */
const IDEMPOTENCY = {
	"Idempotency-Key":
		"A text of one's own in quotes, a new one for each request: sent again with it, the same request gets the answer that was given and changes nothing. 409: it is still at work; 422: the key was used for another request",
} as const;

/** What holds for all: who may ask, what else may be answered, and the header fields that no schema tells of. */
function completeOperation(operation: Operation, facts: EndpointFacts): void {
	operation["security"] = securityOf(facts.access);
	operation["tags"] = [facts.path.split("/")[1]];
	operation.responses["default"] = {
		description: "Refused, or failed: why, and what would be right",
		content: { "application/problem+json": { schema: { $ref: "#/components/schemas/Problem" } } },
	};
	const others = (operation.parameters ?? []).filter((parameter) => parameter["in"] !== "header");
	const fields = Object.entries({ ...(facts.method === "POST" && IDEMPOTENCY), ...facts.headers }).map(([name, description]) => ({
		name,
		in: "header",
		required: false,
		description,
		schema: { type: "string" },
	}));
	operation.parameters = [...others, ...fields];
	if (facts.consumes)
		operation["requestBody"] = {
			required: true,
			content: Object.fromEntries(
				MEDIA_TYPES[facts.consumes].map((type) => [type, { schema: BODY_SCHEMAS[facts.consumes as BodyKind] }]),
			),
		};
}
