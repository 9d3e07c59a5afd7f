import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

onEachDatabase("the programme's rules", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	beforeEach(() => api.world.store.work.run((tx) => tx.affected("DELETE FROM programme")));
	afterAll(() => api.close());
	const change = (rules: unknown, ifMatch?: string, name = "Invented programme") =>
		api.ask("PUT", "/programme", {
			body: { name, rules },
			...(ifMatch === undefined ? {} : { headers: { "if-match": ifMatch } }),
		});

	it("are changed by whoever read them last, and give the new version back (RFC 9110, sections 8.8.3 and 13.1.1)", async () => {
		const before = await api.ask("GET", "/programme");
		expect([before.headers["etag"], before.body.rules.usableLimitGPerL]).toEqual(['"0"', 3.5]);
		const changed = await change({ ...before.body.rules, usableLimitGPerL: 3 }, String(before.headers["etag"]));
		expect([changed.status, changed.body.rules.usableLimitGPerL]).toEqual([200, 3]);
		const after = await api.ask("GET", "/programme");
		expect(after.body).toEqual(changed.body);
		expect(after.headers["etag"]).toBe(changed.headers["etag"]);
		expect(after.headers["etag"]).not.toBe('"0"');
		expect((await api.ask("GET", "/ledger?subject=programme:programme")).body.items[0]).toMatchObject({
			action: "rules changed",
			detail: { before: { usableLimitGPerL: 3.5 }, after: { usableLimitGPerL: 3 } },
		});
	});

	it("may give a kind of work a ladder of its own, and are refused with where for one that there isn't", async () => {
		const ladder = [{ afterMinutes: 30, to: "supervisor", urgent: true }];
		expect((await change({ ladders: { "retest stored bleach": ladder } }, "*")).status).toBe(200);
		const { status, body } = await change({ ladders: { "retest stored bleech": ladder } }, "*");
		expect([status, body.errors[0].pointer]).toEqual([422, "/rules/ladders/retest stored bleech"]);
		expect((await api.ask("GET", "/programme")).body.rules.ladders).toMatchObject({
			"retest stored bleach": [{ afterMinutes: 30 }],
		});
	});

	it("are refused with 428 without If-Match (RFC 6585, section 3)", async () => {
		const { status, body } = await change({});
		expect([status, body.errors]).toEqual([428, [{ parameter: "If-Match", detail: "is needed" }]]);
	});

	it.each(['"1"', 'W/"0"', "0", '"0", "1"', "x"])(
		"are refused with 412 for If-Match %s, which isn't the strong tag of these",
		async (tag) => {
			const { status, body } = await change({}, tag);
			expect([status, body.code]).toEqual([412, "conflict"]);
			expect((await api.ask("GET", "/programme")).headers["etag"]).toBe('"0"');
		},
	);

	it("are changed whatever their version with If-Match *", async () => {
		expect((await change({}, '"0"')).status).toBe(200);
		expect((await change({ usableLimitGPerL: 4 }, "*")).status).toBe(200);
	});

	it("are changed once when 20 change them at the same time from the same version, the first time and every time", async () => {
		for (let round = 0; round < 2; round++) {
			const tag = String((await api.ask("GET", "/programme")).headers["etag"]);
			const answers = await Promise.all(Array.from({ length: 20 }, (_, n) => change({ oldestUseDays: 30 + n }, tag)));
			const statuses = answers.map(({ status }) => status).sort();
			expect(statuses).toEqual([200, ...Array(19).fill(412)]);
			const kept = answers.find(({ status }) => status === 200);
			expect((await api.ask("GET", "/programme")).body).toEqual(kept?.body);
		}
	});

	it.each([
		["a chance of 60 % of being too weak", { toleratedChance: 0.6 }, "/rules/toleratedChance"],
		["a rule that there isn't", { usableLimit: 3 }, "/rules/usableLimit"],
		["a ladder to nobody", { ladder: [{ afterHours: 1, to: "nobody" }] }, "/rules/ladder/0/to"],
		["a dose of 0.1 mg/L, which leaves nothing", { doseMgPerL: { clear: 0.1, cloudy: 3.75 } }, "/rules/doseMgPerL/clear"],
		["a dose of 0.49 mg/L for cloudy water", { doseMgPerL: { clear: 1.875, cloudy: 0.49 } }, "/rules/doseMgPerL/cloudy"],
		["a dose of 10.1 mg/L", { doseMgPerL: { clear: 10.1, cloudy: 3.75 } }, "/rules/doseMgPerL/clear"],
	])("are refused with %s, and the old ones go on", async (_, rules, pointer) => {
		const { status, body } = await change(rules, '"0"');
		expect([status, body.errors[0].pointer]).toEqual([422, pointer]);
		expect((await api.ask("GET", "/programme")).headers["etag"]).toBe('"0"');
	});

	it("are refused with a kit that there isn't: no reading could be taken by it", async () => {
		const { status, body } = await change({ testKit: "tongue" }, '"0"');
		expect([status, body.errors[0].pointer]).toEqual([422, "/rules/testKit"]);
		expect(body.errors[0].detail).toBe(
			"must be one of comparator 0-5, comparator 1-1.5-2-3-5, drop count, photometer, dip strip",
		);
	});
});
