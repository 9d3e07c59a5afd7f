import { segmentsOf } from "../../src/messages/segments.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("the preview of a text", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	afterAll(() => api.close());

	const preview = (body: object) => api.ask("POST", "/messages/preview", { body: { personCode: "vol", ...body } });

	it("shows what a person would read and what it costs, in her language, and puts nothing into the outbox", async () => {
		await api.world.store.work.run((tx) => tx.query("UPDATE person SET language = 'sw' WHERE id = 'sup'"));
		const { status, body } = await preview({ personCode: "sup", text: "jar.testFirst", fill: { jar: "B7" } });
		expect(status).toBe(200);
		expect(body).toEqual({
			text: "Chupa B7: nguvu yake haijulikani. Pima kwanza. Usitumie kwa maji ya kunywa kabla ya hapo.",
			language: "sw",
			encoding: "GSM-7",
			units: 89,
			segments: 1,
		});
		expect(await api.world.messages()).toEqual([]);
	});

	it.each([
		["a text that nobody sends", { text: "jar.strong" }, "/text"],
		["a placeholder that isn't filled", { text: "jar.testFirst" }, "/fill/jar"],
		["text for a number", { text: "jar.weak", fill: { jar: "B7", strengthGPerL: "4" } }, "/fill/strengthGPerL"],
		["a person that there isn't", { text: "jar.testFirst", fill: { jar: "B7" }, personCode: "nobody" }, "/personCode"],
	])("is refused for %s, with where and what would be right", async (_, asked, at) => {
		const { status, body } = await preview(asked);
		expect(status).toBe(422);
		expect(body.errors.map((problem: { pointer: string }) => problem.pointer)).toContain(at);
	});

	it("stands with each task: the first text of it with its parts", async () => {
		await aBatch(api.world);
		await api.world.live(10);
		const [task] = await api.world.tasks();
		const { message } = (await api.ask("GET", `/tasks/${task?.code}`)).body;
		expect(message.text).toMatch(new RegExp(`^Test jar B1 today.*Answer ${task?.code} and the number\\.$`));
		expect(message).toMatchObject({ language: "en", ...segmentsOf(message.text) });
	});
});
