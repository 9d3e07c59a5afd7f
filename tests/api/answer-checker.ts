import { Ajv2020, type ValidateFunction } from "ajv/dist/2020.js";
import addFormats from "ajv-formats";
import type { OpenApiDocument } from "../../src/api/edge/open-api.js";
import { fits } from "./served.js";

/** Routes that are about the interface and so aren't described in it. */
export const ABOUT_THE_INTERFACE = ["/openapi.json", "/docs", "/docs/start.js", "/docs/*"];

/**
 * Holds answers against an OpenAPI document by a JSON Schema validator that the service doesn't use.
 * Source: OpenAPI Specification 3.1.0 (2021), "Responses Object" (`default` for every status that isn't named); JSON Schema draft 2020-12
 */
export function answerChecker(document: OpenApiDocument) {
	const ajv = new Ajv2020({ strict: false, allErrors: true });
	addFormats.default(ajv);
	ajv.addSchema(document, "document");
	const validators = new Map<string, ValidateFunction>();

	return (
		method: string,
		url: string,
		{ status, headers, text, body }: { status: number; headers: Readonly<Record<string, unknown>>; text: string; body: unknown },
	) => {
		const address = Object.keys(document.paths).find((path) => fits(path.replace(/\{(\w+)\}/g, ":$1"), url));
		const operation = address && document.paths[address]?.[method.toLowerCase()];
		const contentType = String(headers["content-type"]).split(";")[0] as string;
		if (method === "HEAD" || status === 304) return;
		if (!operation) {
			if (!ABOUT_THE_INTERFACE.some((pattern) => fits(pattern, url)) || status >= 400)
				expect({ url, contentType, problems: problemsOf("#/components/schemas/Problem", body) }).toEqual({
					url,
					contentType: "application/problem+json",
					problems: [],
				});
			return;
		}
		const key = String(status) in operation.responses ? String(status) : "default";
		expect({ url, status, known: key === "default" ? status >= 400 : true }).toEqual({ url, status, known: true });
		const content = operation.responses[key]?.["content"] as Record<string, unknown> | undefined;
		expect({ url, status, contentTypes: Object.keys(content ?? {}) }).toEqual({ url, status, contentTypes: [contentType] });
		const place = ["paths", address as string, method.toLowerCase(), "responses", key, "content", contentType, "schema"];
		const pointer = `#/${place.map((part) => encodeURIComponent(part.replaceAll("~", "~0").replaceAll("/", "~1"))).join("/")}`;
		expect({ url, status, problems: problemsOf(pointer, body ?? text) }).toEqual({ url, status, problems: [] });
	};

	function problemsOf(pointer: string, value: unknown): string[] {
		const known = validators.get(pointer) ?? ajv.compile({ $ref: `document${pointer}` });
		validators.set(pointer, known);
		known(value);
		return (known.errors ?? []).map(
			({ instancePath, message, params }) => `${instancePath} ${message} ${JSON.stringify(params)}`,
		);
	}
}
