import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("a supervisor's hands on a task, over HTTP", (kind) => {
	let api: Served;
	let code: string;
	beforeAll(async () => {
		api = await served(kind);
		await aBatch(api.world);
		await api.world.live(10);
		code = (await api.world.tasks())[0]?.code as string;
	});
	afterAll(() => api.close());

	it("take note of it, and see since when", async () => {
		const first = await api.ask("POST", `/tasks/${code}/acknowledge`, { body: { byPersonCode: "sup" } });
		expect([first.status, first.body.taskCode]).toEqual([200, code]);
		expect((await api.ask("POST", `/tasks/${code}/acknowledge`, { body: {} })).body).toEqual(first.body);
		expect((await api.ask("GET", `/tasks/${code}`)).body.acknowledgedAt).toBe(first.body.acknowledgedAt);
	});

	it("give it to another person, and are told where that can't be", async () => {
		const unknown = await api.ask("POST", `/tasks/${code}/hand-over`, { body: { toPersonCode: "nobody" } });
		expect([unknown.status, unknown.body.errors[0].pointer]).toEqual([422, "/toPersonCode"]);
		expect((await api.ask("POST", `/tasks/${code}/hand-over`, { body: { toPersonCode: "vol" } })).status).toBe(409);
		expect((await api.ask("POST", "/tasks/XXXXX/hand-over", { body: { toPersonCode: "sup" } })).status).toBe(404);
		const given = await api.ask("POST", `/tasks/${code}/hand-over`, { body: { toPersonCode: "sup", byPersonCode: "sup" } });
		expect([given.status, given.body]).toEqual([200, { taskCode: code, assigneeCode: "sup" }]);
		expect((await api.ask("GET", `/tasks/${code}`)).body).toMatchObject({ code, assigneeCode: "sup", acknowledgedAt: null });
	});

	it("find what her volunteers texted that wasn't understood", async () => {
		const message = { messageId: "m1", from: "+447700900002", text: "the jar is nice" };
		await api.ask("POST", "/replies/sms", { body: message });
		const texts = async (query: string) =>
			(await api.ask("GET", `/replies?${query}`)).body.items.map((item: { text: string }) => item.text);
		expect(await texts("supervisor=sup&outcome=unclear")).toEqual(["the jar is nice"]);
		expect(await texts("person=vol")).toEqual(["the jar is nice"]);
		expect(await texts("supervisor=vol")).toEqual([]);
	});
});
