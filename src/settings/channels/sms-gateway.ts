import { z } from "zod";
import { namedIn, PLACEHOLDERS } from "./templates.js";

/** JSON Pointer (RFC 6901) into what a gateway answers or posts. */
export const pointer = z.string().regex(/^(\/([^~/]|~[01])*)+$/, 'must be a JSON Pointer, such as "/messages/0/id"');

const header = z.string().regex(/^[A-Za-z0-9!#$%&'*+.^_`|~-]{1,80}$/, "must be the name of a header field");
const template = z.string().max(2000, "must be at most 2000 characters");
const parameters = z.record(z.string().min(1).max(100), template);

/** How a gateway's answer is told from another one: every condition that is given must hold. */
const rule = z
	.strictObject({
		status: z.array(z.int().min(100).max(599)).min(1).optional(),
		at: pointer.optional(),
		is: z.array(z.string()).min(1).optional(),
		means: z.enum(["accepted", "refused for good", "refused for now", "too many requests"]),
	})
	.refine(({ at, is }) => (at === undefined) === (is === undefined), '"at" and "is" go together')
	.refine(({ status, at }) => status !== undefined || at !== undefined, 'must have "status", or "at" and "is"');

/** An SMS gateway that is spoken to over HTTP: what is sent, and how its answer is read. */
export const smsGateway = z
	.strictObject({
		url: z.url({ protocol: /^https?$/, error: "must be an http or https address" }),
		method: z.enum(["POST", "PUT", "GET"]).default("POST"),
		headers: z.record(header, template).default({}),
		basic: z.strictObject({ user: z.string().min(1), password: z.string().min(1) }).optional(),
		/** Values for templates that are never shown or logged, by name. */
		secrets: z.record(z.string().regex(/^[a-z][A-Za-z0-9]*$/, "must be letters and digits"), z.string().min(1)).default({}),
		/** How the gateway calls the two encodings of an SMS. */
		encodings: z.strictObject({ "GSM-7": z.string(), "UCS-2": z.string() }).default({ "GSM-7": "GSM-7", "UCS-2": "UCS-2" }),
		send: z.discriminatedUnion("as", [
			z.strictObject({ as: z.literal("json"), template: z.json() }),
			z.strictObject({ as: z.literal("form"), template: parameters }),
			z.strictObject({ as: z.literal("query"), template: parameters }),
		]),
		answer: z
			.strictObject({
				/** text: the words of the answer are looked at as a list, the first one at /0. */
				read: z.enum(["json", "form", "text"]).default("json"),
				/** Where the gateway's own id of the message stands. */
				id: pointer.optional(),
				/** Where it says why it refuses. */
				reason: pointer.optional(),
				/** The first rule that fits decides. Where none fits, the status does. */
				rules: z.array(rule).max(50).default([]),
				/** How long to wait after "too many requests" without a Retry-After, seconds. */
				waitSeconds: z.number().min(0.1).max(3600).default(30),
			})
			.prefault({}),
	})
	.superRefine((settings, context) => {
		const refuse = (path: string[], message: string) => context.addIssue({ code: "custom", path, message });
		const known = new Set<string>([...PLACEHOLDERS, ...Object.keys(settings.secrets)]);
		const templates = textsIn(settings.send.template);
		for (const [path, texts] of [
			[["send", "template"], templates],
			[["url"], [settings.url]],
			[["headers"], Object.values(settings.headers)],
		] as const)
			for (const name of texts.flatMap(namedIn))
				if (!known.has(name))
					refuse([...path], `names {${name}}, which is neither one of ${PLACEHOLDERS.join(", ")} nor a secret`);
		for (const name of Object.keys(settings.secrets))
			if ((PLACEHOLDERS as readonly string[]).includes(name)) refuse(["secrets", name], "is the name of something else");
		const named = new Set([...templates, settings.url].flatMap(namedIn));
		if (!named.has("text")) refuse(["send", "template"], "must hold {text}");
		if (!named.has("to") && !named.has("toDigits")) refuse(["send", "template"], "must hold {to} or {toDigits}");
		if (settings.method === "GET" && settings.send.as !== "query")
			refuse(["send", "as"], 'must be "query" where the method is GET');
	});

export type SmsGatewaySettings = z.output<typeof smsGateway>;

/** @returns every text in a JSON value, wherever it stands */
function textsIn(value: unknown): string[] {
	if (typeof value === "string") return [value];
	return typeof value === "object" && value !== null ? Object.values(value).flatMap(textsIn) : [];
}
