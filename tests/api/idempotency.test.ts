import { KeptAnswers } from "../../src/api/idempotency/kept-answers.js";
import { canonicalJson, keyOf } from "../../src/api/idempotency/key.js";
import { TransientError } from "../../src/errors/errors.js";
import { Batches } from "../../src/stock/batches.js";
import { HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

// Source: IETF draft-ietf-httpapi-idempotency-key-header-07 (2025), sections 2.1, 2.6 and 2.7.
describe("an Idempotency-Key", () => {
	it.each([
		['"8e03978e-40d5-43dd-bc93-6894a57f9324"', "8e03978e-40d5-43dd-bc93-6894a57f9324"],
		["8e03978e-40d5-43dd-bc93-6894a57f9324", "8e03978e-40d5-43dd-bc93-6894a57f9324"],
		['"with \\"quotes\\" and, a comma"', 'with "quotes" and, a comma'],
	])("written %s is %s", (field, key) => {
		expect(keyOf(field)).toBe(key);
	});

	it.each(['""', "", '"open', "two words", '"a", "b"', `"${"x".repeat(256)}"`, '"ä"', "a,b"])("isn't %s", (field) => {
		expect(() => keyOf(field)).toThrow(/Idempotency-Key must be one text/);
	});

	it("is held against a body in which neither white space nor the order of members counts", () => {
		expect(canonicalJson({ b: [{ d: 1, c: 2 }], a: null })).toBe('{"a":null,"b":[{"c":2,"d":1}]}');
	});
});

const batch = {
	code: "JAR-1",
	areaCode: "A1",
	keeperCode: "vol",
	madeAt: "2026-03-03T07:00:00+03:00",
	volumeL: 5,
	madeStrengthGPerL: 5,
	saltGPerL: 30,
	wall: "opaque",
	exposure: "indoors",
};
const test = { sampleMl: 1, madeUpToL: 2, reading: "2" };

onEachDatabase("a POST with an Idempotency-Key", (kind) => {
	let api: Served;
	let n = 0;
	beforeAll(async () => {
		api = await served(kind);
	});
	afterAll(() => api.close());
	const post = (url: string, body: unknown, key?: string) =>
		api.ask("POST", url, { body, ...(key === undefined ? {} : { headers: { "idempotency-key": key } }) });
	const tests = async (code: string) => (await api.ask("GET", `/batches/${code}`)).body.tests.length;
	const newBatch = () => ({ ...batch, code: `K${++n}` });
	/** A batch on file. */
	async function onFile(): Promise<string> {
		const { code } = newBatch();
		expect((await post("/batches", { ...batch, code })).status).toBe(201);
		return code;
	}

	it("is answered alike when it comes again, and does nothing twice: a test counts once", async () => {
		const code = await onFile();
		const first = await post(`/batches/${code}/strength-tests`, test, '"t-1"');
		const again = await post(`/batches/${code}/strength-tests`, { reading: "2", madeUpToL: 2, sampleMl: 1 }, "t-1");
		expect([first.status, again.status]).toEqual([201, 201]);
		expect(again.body).toEqual(first.body);
		expect(await tests(code)).toBe(1);
		await post(`/batches/${code}/strength-tests`, test);
		expect(await tests(code)).toBe(2);
	});

	it("is refused with 422 when the key was used for another body or another batch, and changes nothing", async () => {
		const [code, other] = [await onFile(), await onFile()];
		await post(`/batches/${code}/strength-tests`, test, "t-2");
		for (const [of, body] of [
			[code, { ...test, reading: "3" }],
			[other, test],
		] as const) {
			const { status, body: refusal } = await post(`/batches/${of}/strength-tests`, body, "t-2");
			expect([status, refusal.code, refusal.errors[0].parameter]).toEqual([422, "key-reused", "Idempotency-Key"]);
		}
		expect([await tests(code), await tests(other)]).toEqual([1, 0]);
	});

	it("is done once when it comes 20 times at the same moment: the others are told 409 or the answer", async () => {
		const body = newBatch();
		const answers = await Promise.all(Array.from({ length: 20 }, () => post("/batches", body, "t-3")));
		const statuses = new Set(answers.map(({ status }) => status));
		expect([...statuses].filter((status) => status !== 201 && status !== 409)).toEqual([]);
		for (const { status, body: refusal, headers } of answers)
			if (status === 409) expect([refusal.code, headers["retry-after"]]).toEqual(["request-going-on", "1"]);
		expect((await post("/batches", body, "t-3")).status).toBe(201);
		expect(await api.world.store.query("SELECT count(*) AS n FROM batch WHERE code = $1", [body.code])).toEqual([{ n: 1 }]);
	});

	it("that was refused or has failed is tried afresh under the same key", async () => {
		const body = newBatch();
		expect((await post("/batches", { ...body, areaCode: "nowhere" }, "t-4")).status).toBe(422);
		const failing = jest
			.spyOn(api.world.the(Batches), "register")
			.mockRejectedValueOnce(new TransientError("database-busy", "away"));
		expect((await post("/batches", body, "t-4")).status).toBe(503);
		failing.mockRestore();
		expect((await post("/batches", body, "t-4")).status).toBe(201);
	});

	it("whose process died at work has changed nothing: 409 for a minute, then the same key does it", async () => {
		const body = newBatch();
		const { store, clock } = api.world;
		const register = Batches.prototype.register;
		// Dies with the work written, before the unit of work is kept: neither the batch nor an answer is there afterwards.
		const dying = jest.spyOn(api.world.the(Batches), "register").mockImplementationOnce(async function (this: Batches, given) {
			await register.call(this, given);
			throw new Error("the process dies here");
		});
		const release = jest.spyOn(KeptAnswers.prototype, "release").mockResolvedValueOnce(undefined);
		expect((await post("/batches", body, "t-5")).status).toBe(500);
		dying.mockRestore();
		release.mockRestore();
		expect(await store.query("SELECT id FROM batch WHERE code = $1", [body.code])).toEqual([]);
		expect((await post("/batches", body, "t-5")).status).toBe(409);
		clock.advance(MINUTE_MS + 1);
		expect((await post("/batches", body, "t-5")).status).toBe(201);
	});

	it("that took longer than its lease, so that another did the work, keeps nothing of its own", async () => {
		const body = newBatch();
		const register = Batches.prototype.register;
		const slow = jest.spyOn(api.world.the(Batches), "register").mockImplementationOnce(async function (this: Batches, given) {
			const made = await register.call(this, given);
			await api.world.store.work.run((tx) =>
				tx.affected("UPDATE idempotency_key SET lease_until_ms = 1 WHERE lease_until_ms IS NOT NULL"),
			);
			return made;
		});
		expect((await post("/batches", body, "t-6")).status).toBe(503);
		slow.mockRestore();
		expect(await api.world.store.query("SELECT id FROM batch WHERE code = $1", [body.code])).toEqual([]);
	});

	it("is forgotten after 24 h, and cleared away", async () => {
		const code = await onFile();
		await post(`/batches/${code}/strength-tests`, test, "t-7");
		api.world.clock.advance(24 * HOUR_MS + 1);
		expect((await post(`/batches/${code}/strength-tests`, { ...test, reading: "1" }, "t-7")).status).toBe(201);
		expect(await tests(code)).toBe(2);
		expect(await api.world.store.query("SELECT count(*) AS n FROM idempotency_key")).toEqual([{ n: 1 }]);
	});

	it("may be a text from a gateway: kept and answered once", async () => {
		const text = { messageId: "g-1", from: "+447700900002", text: "help" };
		const [first, again] = [await post("/replies/sms", text, "t-8"), await post("/replies/sms", text, "t-8")];
		expect([first.status, first.body]).toEqual([200, { outcome: "help", repeated: false, taskCode: null }]);
		expect(again.body).toEqual(first.body);
		expect((await post("/replies/sms", { ...text, text: "stop" }, "t-8")).status).toBe(422);
	});

	it("may be a file: the same one again gets the same report, another one under its key is refused", async () => {
		const header = "code,area_code,volunteer_code,persons,water_source,turbidity,latitude_deg,longitude_deg";
		const file = (code: string) => `${header}\n${code},A1,vol,5,well,clear,,\n`;
		const send = (raw: string) =>
			api.ask("POST", "/imports/households", { raw, headers: { "content-type": "text/csv", "idempotency-key": "t-9" } });
		const first = await send(file("H1"));
		expect([first.status, first.body.state]).toEqual([200, "imported"]);
		expect((await send(file("H1"))).body).toEqual(first.body);
		expect((await send(file("H2"))).status).toBe(422);
		expect(await api.world.store.query("SELECT code FROM household")).toEqual([{ code: "H1" }]);
	});

	it("is described in the document for every POST, and for nothing else", () => {
		for (const operations of Object.values(api.document.paths))
			for (const [method, { parameters = [] }] of Object.entries(operations))
				expect(parameters.some(({ name }) => name === "Idempotency-Key")).toBe(method === "post");
	});
});
