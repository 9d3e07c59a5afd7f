import type { SubjectKind } from "../../src/access/subjects.js";
import type { OpenApiDocument } from "../../src/api/edge/open-api.js";
import type { KnownRoute } from "../../src/api/edge/routes.js";
import type { Randomness } from "../../src/time/randomness.js";
import { type Names, namesOf } from "../access/parts.js";
import { SAMPLES } from "../access/samples.js";
import type { Asked } from "../api/served.js";
import { Spoiler } from "./spoiler.js";

type Json = Record<string, unknown>;

export interface Generated {
	readonly method: "GET" | "POST" | "PUT";
	readonly url: string;
	readonly asked: Asked;
	/** What was done to it. */
	readonly how: readonly string[];
}

/** Values that a field rarely meant: of other kinds, huge, tiny, out of any calendar, with NUL, with half a character, of other scripts. */
const ODD: readonly unknown[] = [
	...[null, true, false, 0, -0, -1, 0.1, 1e-320, 1e308, -1e308, 2 ** 53, 2 ** 63, -(2 ** 63), 2 ** 31, 1e21, 9007199254740991],
	...[
		"",
		" ",
		"\0",
		"a\0b",
		"\ud800",
		"\udfffx",
		"\u202e",
		"\ufeff",
		"ﷺ",
		"🫙",
		"0",
		"-1",
		"1e999",
		"NaN",
		"Infinity",
		"null",
		"__proto__",
	],
	...[
		"x".repeat(5000),
		"١٢٣",
		"%00",
		"%",
		"../..",
		"' OR 1=1 --",
		"$(1)",
		"=1+1",
		"B1",
		"near",
		"2026-02-30",
		"0000-00-00",
		"9999-12-31",
	],
	...[
		"2026-03-03T00:00:00Z",
		"+275760-09-13T00:00:00Z",
		"-271821-04-20T00:00:00Z",
		"2026-03-03T25:61:61Z",
		"1970-01-01T00:00:00+99:99",
	],
	...[[], {}, [[]], [null], { a: 1 }, [1, 2, 3], { length: 3 }, { toString: 1 }, Array.from({ length: 1200 }, () => 1)],
];
export const ODD_TEXTS = ODD.filter((value) => typeof value === "string" || typeof value === "number").map(String);
const CHARSETS = ["utf-16", "utf-8", "UTF-8", "iso-8859-1", "", '"', "utf-7"];
const TYPES = [
	"application/json",
	"text/csv",
	"text/plain",
	"application/x-www-form-urlencoded",
	"multipart/form-data; boundary=x",
	"application/xml",
	"x",
];

/** Makes requests of a service's own description and of good samples, and spoils them. */
export class GeneratedRequests extends Spoiler {
	private names = namesOf("near");

	constructor(
		private readonly document: OpenApiDocument,
		private readonly routes: readonly KnownRoute[],
		chance: Randomness,
	) {
		super(chance);
	}

	/** @param names of the things that whoever asks names mostly */
	next(names: Names = this.names): Generated {
		this.names = names;
		const how: string[] = [];
		const route = this.pick(this.routes);
		const key = `${route.method} ${route.pattern}`;
		const operation = this.document.paths[route.pattern.replace(/:(\w+)/g, "{$1}")]?.[route.method.toLowerCase()] as Json;
		const sample = SAMPLES[key]?.(this.names) ?? {};
		const parameters = (operation["parameters"] ?? []) as { name: string; in: string; schema: Json; required?: boolean }[];
		const good: Record<string, string> = { ...sample.parameters };
		for (const touch of route.touches) {
			const [, kind, at] = /^([a-z ]+) path\.(\w+)$/.exec(touch) ?? [];
			if (kind !== undefined && at !== undefined) good[at] ??= this.names[kind as SubjectKind];
		}
		const asText = (name: string, schema: Json) => {
			if (this.is(0.12)) return this.said(how, `odd ${name}`, this.pick(ODD_TEXTS));
			return good[name] ?? String(this.made(schema, 0));
		};
		const path = route.pattern.replace(/:(\w+)/g, (_, name: string) => {
			const schema = parameters.find((one) => one.in === "path" && one.name === name)?.schema ?? { type: "string" };
			// An address can't hold half a character.
			const text = Buffer.from(asText(name, schema).slice(0, 200)).toString();
			return /^\.{0,2}$/.test(text) ? "x" : encodeURIComponent(text);
		});
		const query = new URLSearchParams();
		for (const one of parameters.filter((parameter) => parameter.in === "query")) {
			if (!(one.name in good) && !one.required && !this.is(0.25)) continue;
			if (this.is(0.05)) this.said(how, `without ${one.name}`, undefined);
			else query.append(one.name, asText(one.name, one.schema));
			if (this.is(0.03)) query.append(one.name, this.said(how, `twice ${one.name}`, this.pick(ODD_TEXTS)));
		}
		if (this.is(0.03)) query.append(this.said(how, "unknown parameter", this.pick(ODD_TEXTS)), "1");
		const search = query.size > 0 ? `?${query}` : "";
		const headers: Record<string, string> = { ...sample.headers };
		if (route.method === "PUT" && this.is(0.8)) headers["if-match"] = this.pick(["*", '"1"', "1", '"x", "y"', ""]);
		if (route.method === "POST" && this.is(0.05))
			headers["idempotency-key"] = this.pick(['"k1"', "k2", '""', '"é"', "x".repeat(300)]);
		return {
			method: route.method as "GET",
			url: path + search,
			asked: { headers, ...this.body(operation, sample.body, headers, how) },
			how,
		};
	}

	private body(operation: Json, sample: object | undefined, headers: Record<string, string>, how: string[]): Asked {
		const content = (operation["requestBody"] as { content?: Record<string, { schema: Json }> } | undefined)?.content;
		if (!content) return {};
		const [type, { schema }] = this.pick(Object.entries(content));
		headers["content-type"] = type;
		if (this.is(0.03)) headers["content-type"] = this.said(how, "other media type", this.pick(TYPES));
		if (this.is(0.03)) headers["content-type"] = `${type}; charset=${this.said(how, "charset", this.pick(CHARSETS))}`;
		if (!type.includes("json"))
			return { raw: this.said(how, "odd text", [this.pick(ODD_TEXTS), this.pick(ODD_TEXTS)].join("\n")) };
		const whole: unknown =
			sample && Object.keys(sample).length > 0 && this.is(0.6) ? structuredClone(sample) : this.made(schema, 0);
		let body = whole;
		for (let spoilt = this.pick([0, 1, 1, 1, 2, 4]); spoilt > 0; spoilt--) body = this.spoilt(body, how);
		let text = JSON.stringify(body) ?? "";
		if (this.is(0.03)) text = this.said(how, "a key twice", text.replace(/^\{("[^"]*":)/, "{$1null,$1"));
		if (this.is(0.02))
			text = this.said(how, "a huge number", text.replace(/:\d[\d.]*/, `:${this.pick(["1e999", "1".repeat(400), "-1e-999"])}`));
		if (this.is(0.02)) text = this.said(how, "deep", "[".repeat(20_000) + "]".repeat(20_000));
		if (this.is(0.02)) text = this.said(how, "deep in a field", `{"code":${'{"a":'.repeat(5000)}1${"}".repeat(5000)}}`);
		if (this.is(0.02)) text = this.cutOff(how, text);
		if (this.is(0.01)) text = this.said(how, "long", `{"code":"${"x".repeat(300_000)}"}`);
		if (this.is(0.02)) text = this.said(how, "half a character, escaped", text.replace(/"([^"]*)"(?=[,}])/, '"\\ud800$1"'));
		if (this.is(0.02)) return { raw: this.said(how, "bytes", Buffer.from(text, this.pick(["latin1", "utf16le"]))) };
		if (this.is(0.01))
			return { raw: this.said(how, "no UTF-8", Buffer.concat([Buffer.from(text), Buffer.from([0xc3, 0x28, 0xff])])) };
		return { raw: text };
	}

	/** One place of it is another than it should be. */
	private spoilt(body: unknown, how: string[]): unknown {
		if (typeof body !== "object" || body === null || this.is(0.04)) return this.said(how, "odd whole", this.pick(ODD));
		const at = this.pick([...Object.keys(body), "added"]);
		if (at === "added") {
			if (Array.isArray(body)) return [...body, this.said(how, "one more", this.pick(ODD))];
			return {
				...body,
				[this.said(how, "unknown field", this.pick(["__proto__x", "id", "", "\0", "state", "x".repeat(300)]))]: this.pick(ODD),
			};
		}
		const inner = (body as Json)[at];
		const isWhole = typeof inner !== "object" || inner === null || this.is(0.3);
		const copy: Json = Array.isArray(body) ? ([...body] as unknown as Json) : { ...body };
		if (this.is(0.2)) {
			this.said(how, `without ${at}`, undefined);
			delete copy[at];
		} else if (isWhole) {
			how.push(`odd ${at}`);
			copy[at] =
				typeof inner === "number" && this.is(0.5) ? inner * this.pick([-1, 0, 1e3, 1e9, 1e-9, 1.0000001]) : this.pick(ODD);
		} else copy[at] = this.spoilt(inner, how);
		return copy;
	}

	/** A value that the schema takes, as far as a few lines can tell. */
	private made(given: Json | boolean | undefined, depth: number): unknown {
		if (given === undefined || typeof given === "boolean" || depth > 6) return this.pick(ODD);
		const schema = this.resolved(given);
		if ("const" in schema) return schema["const"];
		if (Array.isArray(schema["enum"])) return this.pick(schema["enum"] as unknown[]);
		for (const several of ["anyOf", "oneOf"])
			if (Array.isArray(schema[several])) return this.made(this.pick(schema[several] as Json[]), depth + 1);
		if (Array.isArray(schema["allOf"]))
			return Object.assign({}, ...(schema["allOf"] as Json[]).map((part) => this.made(part, depth + 1)));
		const { type } = schema;
		if (type === "boolean") return this.is(0.5);
		if (type === "null") return null;
		if (type === "number" || type === "integer") return this.number(schema);
		if (type === "string") return this.text(schema);
		if (type === "array")
			return Array.from({ length: Math.floor(this.chance.fraction() * 4) }, () => this.made(schema["items"] as Json, depth + 1));
		if (type !== "object") return this.pick(ODD);
		const required = (schema["required"] ?? []) as string[];
		const made: Json = {};
		for (const [name, inner] of Object.entries((schema["properties"] ?? {}) as Record<string, Json>))
			if (required.includes(name) || this.is(0.4)) made[name] = this.named(name) ?? this.made(inner, depth + 1);
		return made;
	}

	/** Fields that name something that is there reach further. */
	private named(field: string): string | undefined {
		const kind = /^(area|container|household|generator|batch)Code$/.exec(field)?.[1];
		if (kind) return this.names[kind as SubjectKind];
		return /(person|keeper|volunteer|auditor|holder)Code$/i.test(field) ? this.names.person : undefined;
	}

	private number({ type, minimum, maximum, exclusiveMinimum }: Json): number {
		const low = Number(minimum ?? exclusiveMinimum ?? -10);
		const high = Math.min(Number(maximum ?? 1000), 1e9);
		const value = this.pick([low, high, low + (high - low) * this.chance.fraction()]);
		return type === "integer" ? Math.round(value) : value;
	}

	private text({ format, pattern, minLength }: Json): string {
		if (format === "date") return this.pick(["2026-03-01", "2026-03-03", "2025-12-31"]);
		if (format === "date-time") return this.pick(["2026-03-01T06:00:00Z", "2026-03-03T04:00:00.5Z", "2024-02-29T23:59:59Z"]);
		if (format === "uri") return "https://push.example.org/1";
		if (format === "email") return "a@example.org";
		if (pattern !== undefined && this.is(0.5)) return this.pick(["A1", "B1", "2026-03", "06:00", "one", "+447700900002"]);
		return "abc 123".padEnd(Number(minLength ?? 0), "x");
	}

	private resolved(schema: Json): Json {
		const name = /^#\/components\/schemas\/(.+)$/.exec(String(schema["$ref"] ?? ""))?.[1];
		return name === undefined ? schema : (this.document.components.schemas[name] as Json);
	}
}
