import { Ajv2020 } from "ajv/dist/2020.js";
import addFormats from "ajv-formats";
import { type Served, served } from "./served.js";

describe("the description of the interface", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite");
	});
	afterAll(() => api.close());

	it("is OpenAPI 3.1 whose every schema is JSON Schema of draft 2020-12 with no reference that leads nowhere", () => {
		expect(api.document["openapi"]).toBe("3.1.0");
		const ajv = new Ajv2020({ strict: false, validateFormats: false });
		addFormats.default(ajv);
		ajv.addSchema(api.document, "document");
		const names = Object.keys(api.document.components.schemas);
		expect(names.length).toBeGreaterThan(20);
		for (const name of names) {
			expect({ name, valid: ajv.validateSchema(api.document.components.schemas[name] as object) }).toEqual({ name, valid: true });
			expect(() => ajv.compile({ $ref: `document#/components/schemas/${name}` })).not.toThrow();
		}
		// OpenAPI 3.0's way to say null isn't one of 3.1 (OpenAPI Specification 3.1.0, "Schema Object").
		expect(JSON.stringify(api.document)).not.toContain('"nullable"');
	});

	it("gives every operation a summary, a name of its own, a tag, and problem details for what is refused", () => {
		const operations = Object.values(api.document.paths).flatMap((of) => Object.values(of));
		for (const operation of operations) {
			expect(operation).toMatchObject({ summary: expect.any(String), tags: [expect.any(String)] });
			expect(operation.responses["default"]?.["content"]).toEqual({
				"application/problem+json": { schema: { $ref: "#/components/schemas/Problem" } },
			});
		}
		expect(new Set(operations.map((operation) => operation["operationId"])).size).toBe(operations.length);
	});

	it("names every parameter of an address, and only those as required that are", () => {
		for (const [path, operations] of Object.entries(api.document.paths))
			for (const { parameters = [] } of Object.values(operations)) {
				const inPath = parameters.filter((parameter) => parameter["in"] === "path").map(({ name }) => name);
				expect({ path, inPath }).toEqual({ path, inPath: [...path.matchAll(/\{(\w+)\}/g)].map(([, name]) => name) });
			}
		const waterL = api.document.paths["/batches/{code}/dose"]?.["get"]?.parameters?.find(({ name }) => name === "waterL");
		expect(waterL).toMatchObject({ in: "query", required: true, schema: { type: "number", minimum: 0.25, maximum: 1000 } });
	});

	it("tells input from output: what has a default may be left out when it comes in and is always there when it goes out", () => {
		const { ChangedProgramme, Programme } = api.document.components.schemas as Record<
			string,
			{ properties: { rules: { required?: string[] } } }
		>;
		expect(ChangedProgramme?.properties.rules.required ?? []).not.toContain("usableLimitGPerL");
		expect(Programme?.properties.rules.required).toContain("usableLimitGPerL");
	});

	it("can be read on a page that runs nothing but its own scripts", async () => {
		const { headers, text } = await api.ask("GET", "/docs");
		const policy = String(headers["content-security-policy"]);
		expect(policy).toContain("default-src 'none'");
		expect(policy).toContain("script-src 'self';");
		expect(policy).toContain("frame-ancestors 'none'");
		expect(text).not.toMatch(/<script>|\son\w+=|javascript:|https?:\/\//);
		const files = [...text.matchAll(/(?:src|href)="([^"]+)"/g)].map(([, file]) => file as string);
		expect(files.length).toBe(4);
		for (const file of files) expect({ file, status: (await api.ask("GET", file)).status }).toEqual({ file, status: 200 });
	});
});
