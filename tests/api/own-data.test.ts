import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

onEachDatabase("what a person may ask for", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	afterAll(() => api.close());

	it("is a consent on record, and taken back: it is listed with its version, when and how", async () => {
		const body = { purpose: "messages", textVersion: "2026-1", obtained: "on paper", givenAt: "2026-03-01T08:00:00Z" };
		const given = await api.ask("POST", "/people/vol/consents", { body });
		expect([given.status, given.body.items]).toMatchObject([
			201,
			[{ ...body, givenAt: "2026-03-01T08:00:00.000Z", withdrawnAt: null }],
		]);
		const back = await api.ask("POST", "/people/vol/consents/withdrawal", { body: { purpose: "messages", by: "by phone" } });
		expect([back.status, back.body.items]).toMatchObject([200, [{ withdrawnBy: "by phone" }]]);
		const { body: people } = await api.ask("GET", "/people?role=volunteer");
		expect(people.items).toMatchObject([{ code: "vol", wantsMessages: false }]);
		const again = await api.ask("POST", "/people/vol/consents", { body });
		expect([again.status, again.body.code]).toEqual([409, "conflict"]);
		const tomorrow = await api.ask("POST", "/people/vol/consents", { body: { ...body, givenAt: "2036-01-01T00:00:00Z" } });
		expect([tomorrow.status, tomorrow.body.code]).toEqual([422, "time-in-future"]);
	});

	it("is a copy of her own data, in full for whoever administers, and an erasure after which none of it is there", async () => {
		const copy = await api.ask("GET", "/people/vol/own-data");
		expect(copy.status).toBe(200);
		expect(copy.text).toContain("+447700900002");
		const erased = await api.ask("POST", "/people/vol/erasure");
		expect([erased.status, erased.body.code]).toEqual([200, "vol"]);
		expect((await api.ask("GET", "/people/vol/own-data")).text).not.toContain("7700900002");
		expect((await api.ask("GET", "/people/nobody/own-data")).status).toBe(404);
		const supervisor = await api.ask("POST", "/people/sup/erasure");
		expect(supervisor.status).toBe(200);
	});
});
