import { TransientError } from "../../src/errors/errors.js";
import { aBatch } from "../support/world.js";
import { KEY, type Served, served } from "./served.js";

// Every answer is held against the document by `ask`; what is looked at here is which refusal comes and what it says.
const json = { "content-type": "application/json" };
const batch = {
	code: "B2",
	areaCode: "A1",
	madeAt: "2026-03-03T04:00:00Z",
	volumeL: 5,
	madeStrengthGPerL: 5,
	saltGPerL: 30,
	wall: "opaque",
	exposure: "indoors",
};

describe("a refusal", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite");
	});
	afterAll(() => api.close());
	const refused = async (raw: string | Buffer, headers: Record<string, string> = json) => {
		const { status, body } = await api.ask("POST", "/batches", { raw, headers });
		return { status, code: body.code, errors: body.errors };
	};

	it("is problem details with type, title, status, detail, code and the request's id (RFC 9457, section 3.1)", async () => {
		const { status, headers, body } = await api.ask("GET", "/nothing-here");
		expect(status).toBe(404);
		expect(headers["content-type"]).toBe("application/problem+json");
		expect(body).toEqual({
			type: "urn:jarwatch:problem:nothing-here",
			title: "Nothing here",
			status: 404,
			detail: "There is nothing at this address.",
			code: "nothing-here",
			instance: `urn:uuid:${headers["x-request-id"]}`,
		});
	});

	it("is 405 with Allow where another method is taken (RFC 9110, section 15.5.6), 404 where none is", async () => {
		for (const [method, url, allow] of [
			["DELETE", "/areas", "GET, HEAD"],
			["POST", "/areas", "GET, HEAD"],
			["OPTIONS", "/areas", "GET, HEAD"],
			["PATCH", "/programme", "GET, HEAD, PUT"],
			["GET", "/tasks/K7M4X/answer", "POST"],
		] as const) {
			const { status, headers } = await api.ask(method, url);
			expect({ url, status, allow: headers["allow"] }).toEqual({ url, status: 405, allow });
		}
		for (const url of ["/areas/", "/Areas", "//areas", "/docs/index.html", "/docs/%2e%2e/package.json", "/docs/swagger-ui.js"])
			expect({ url, status: (await api.ask("GET", url)).status }).toEqual({ url, status: 404 });
	});

	it("is 400 for an address or a body that can't be read", async () => {
		expect((await api.ask("GET", "/%zz")).status).toBe(400);
		for (const raw of [
			"",
			"{",
			'{"a":1}}',
			"{'a':1}",
			"NaN",
			"[1,]",
			Buffer.from([0x7b, 0xff, 0x7d]),
			Buffer.from([0xff, 0xfe, 0x7b, 0, 0x7d, 0]),
		])
			expect(await refused(raw)).toEqual({ status: 400, code: "malformed", errors: undefined });
	});

	it("is 400 for a body that reaches for the prototype, by whatever spelling", async () => {
		for (const raw of [
			'{"__proto__":{"x":1}}',
			'{"a":{"__proto__":1}}',
			'{"\\u005f_proto__":{}}',
			'{"constructor":{"prototype":{"x":1}}}',
		])
			expect((await refused(raw)).status).toBe(400);
		expect(({} as Record<string, unknown>)["x"]).toBeUndefined();
	});

	it("is 413 over 256 KiB, whether the length is announced or not", async () => {
		expect(await refused(`"${"x".repeat(256 * 1024)}"`)).toMatchObject({ status: 413, code: "too-large" });
		expect((await refused(`"${"x".repeat(256 * 1024 - 3)}"`)).status).toBe(422);
	});

	it.each([
		"text/plain",
		"application/x-www-form-urlencoded",
		"multipart/form-data",
		"text/csv",
		"application/json; charset=latin1",
		"application/jsonx",
		"",
	])("is 415 for JSON that is sent as %j, which a web form of another site could send", async (type) => {
		const { status, headers } = await api.ask("POST", "/batches", {
			raw: JSON.stringify(batch),
			headers: { "content-type": type },
		});
		expect([status, headers["accept"]]).toEqual([415, "application/json"]);
	});

	it("is 414 for a name of more than 128 characters in the address", async () => {
		expect((await api.ask("GET", `/batches/${"x".repeat(129)}`)).status).toBe(414);
		expect((await api.ask("GET", `/batches/${"x".repeat(64)}`)).status).toBe(404);
	});

	it("names every field by JSON Pointer (RFC 6901), says what would be right, and never repeats what was sent", async () => {
		const told = await api.ask("POST", "/batches", {
			body: { ...batch, volumeL: -77.25, wall: "secret-wall", madeAt: "yesterday-ish", "a/b~c": 1, madeStrengthGPerL: "5" },
		});
		expect(told.status).toBe(422);
		const pointers = (told.body.errors as { pointer: string }[]).map(({ pointer }) => pointer).sort();
		expect(pointers).toEqual(["/a~1b~0c", "/madeAt", "/madeStrengthGPerL", "/volumeL", "/wall"]);
		expect(told.body.errors).toContainEqual({ pointer: "/volumeL", detail: "Too small: expected number to be >=0.1" });
		for (const sent of ["-77", "secret-wall", "yesterday"]) expect(told.text).not.toContain(sent);
	});

	it("names parameters that aren't known, also where an address takes none", async () => {
		expect((await api.ask("GET", "/areas?nmae=x")).body.errors).toEqual([{ parameter: "nmae", detail: "isn't known here" }]);
		expect((await api.ask("GET", "/programme?x=1")).body.errors).toEqual([{ parameter: "x", detail: "isn't known here" }]);
		expect((await api.ask("GET", "/tasks?state=open&state=done")).status).toBe(422);
	});

	it("is 422 for NUL and for half of a surrogate pair, in values, names, parameters and addresses, on every kind of text", async () => {
		for (const text of ["a\\u0000b", "\\ud83d", "\\ude00x"]) {
			expect(await refused(`{"code":"${text}"}`)).toEqual({
				status: 422,
				code: "invalid-input",
				errors: [{ pointer: "/code", detail: "holds a NUL character or half of a surrogate pair" }],
			});
			expect((await refused(`{"a":{"${text}":1}}`)).errors?.[0]?.pointer).toBe("/a");
		}
		for (const url of ["/batches/%00", "/tasks?assignee=%00", "/tasks/%00x", "/ledger?subject=task:%00"])
			expect({ url, status: (await api.ask("GET", url)).status }).toEqual({ url, status: 422 });
		// A whole pair is a character like any other.
		expect((await refused('{"code":"\\ud83d\\ude00"}')).errors?.[0]?.detail).toMatch(/letters, digits/);
	});

	it("is 422 for nesting deeper than 20 levels and for lists of more than 1000", async () => {
		const nested = (levels: number) => `${'{"a":'.repeat(levels)}1${"}".repeat(levels)}`;
		expect((await refused(nested(20))).errors).toEqual(
			expect.not.arrayContaining([{ pointer: "/a".repeat(20), detail: expect.stringMatching(/deeper/) }]),
		);
		expect((await refused(nested(21))).errors).toEqual([{ pointer: "/a".repeat(20), detail: "is nested deeper than 20 levels" }]);
		expect((await refused(`${"[".repeat(100_000)}${"]".repeat(100_000)}`)).status).toBe(422);
		expect((await refused(JSON.stringify({ list: Array(1001).fill(0) }))).errors).toEqual([
			{ pointer: "/list", detail: "holds more than 1000 values" },
		]);
	});

	it("is 503 with Retry-After where something outside failed for now, and logged as a warning", async () => {
		const broken = jest.spyOn(api.world.batches, "register");
		broken.mockRejectedValueOnce(
			new TransientError("database-busy", "The database is away. Try again.", { retryAfterMs: 2_400 }),
		);
		const { status, headers, body } = await api.ask("POST", "/batches", { body: batch });
		expect([status, headers["retry-after"], body.code]).toEqual([503, "3", "database-busy"]);
		expect(api.lines.at(-2)).toMatchObject({ level: 40, status: 503, code: "database-busy" });
	});

	it("is 500 for a defect, logged as an error with its cause, and tells the asker nothing of it", async () => {
		const broken = jest.spyOn(api.world.batches, "register");
		const cause = Object.assign(new Error("duplicate key"), { parameters: ["Invented Volunteer", "+447700900002"] });
		broken.mockRejectedValueOnce(new Error("SELECT secret FROM person failed", { cause }));
		const { status, text } = await api.ask("POST", "/batches", { body: batch });
		expect(status).toBe(500);
		expect(text).not.toMatch(/SELECT|person|duplicate|stack|\.ts/);
		const line = JSON.stringify(api.lines.at(-2));
		expect(line).toContain("SELECT secret FROM person failed");
		expect(line).toContain("duplicate key");
		expect(line).not.toMatch(/Invented Volunteer|447700900002/);
	});

	it("is 409 for a batch of a code that is on file", async () => {
		await aBatch(api.world, "B1");
		const { status, body } = await api.ask("POST", "/batches", { body: { ...batch, code: "B1" } });
		expect([status, body.code]).toEqual([409, "conflict"]);
	});

	it("carries the same protecting header fields as any other answer (OWASP ASVS 5.0.0, 3.4.1, 3.4.3 to 3.4.6, 14.3.2)", async () => {
		const asked = [
			api.ask("GET", "/areas"),
			api.ask("GET", "/nothing-here"),
			api.ask("DELETE", "/areas"),
			api.ask("GET", "/%zz"),
			api.ask("GET", `/tasks/${"x".repeat(300)}`),
			api.ask("GET", "/areas", { headers: { authorization: "" } }),
			api.ask("POST", "/batches", { raw: "{", headers: json }),
			api.ask("GET", "/areas?limit=0"),
			api.ask("HEAD", "/areas"),
		];
		for (const { status, headers } of await Promise.all(asked))
			expect({ status, headers }).toMatchObject({
				status,
				headers: {
					"x-content-type-options": "nosniff",
					"referrer-policy": "no-referrer",
					"cache-control": "no-store",
					"cross-origin-resource-policy": "same-origin",
					"content-security-policy": expect.stringMatching(/object-src 'none'.*frame-ancestors 'none'.*base-uri 'none'/),
					"strict-transport-security": "max-age=63072000; includeSubDomains",
					"x-request-id": expect.stringMatching(/^[0-9a-f-]{36}$/),
				},
			});
	});

	it("never reflects an origin: no page of another site reads an answer", async () => {
		for (const origin of ["https://elsewhere.example", "null", "http://localhost:8080.elsewhere.example"]) {
			const { headers } = await api.ask("GET", "/areas", { headers: { origin, authorization: `Bearer ${KEY}` } });
			expect(Object.keys(headers).filter((name) => name.startsWith("access-control-"))).toEqual([]);
		}
	});
});
