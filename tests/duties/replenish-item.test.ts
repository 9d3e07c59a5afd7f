import { policyFrom } from "../../src/programme/policy.js";
import { itemLevels } from "../../src/stock/item-levels.js";
import { StockItems } from "../../src/stock/items.js";
import { checkSums } from "../../src/stock/sums.js";
import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, settle, type World } from "../support/world.js";

const rules = policyFrom({}).stock;
const stock = (over: object) => ({ held: 100, usePerDay: 0, reorderAt: null, orderUpTo: null, expiresAtMs: null, ...over });

describe("levels of an item", () => {
	it("are use over 14 days of lead and 14 of safety, and 30 of review more: 10 g a day are 280 and 580 g", () => {
		expect(itemLevels(stock({ held: 600, usePerDay: 10 }), rules, START_MS)).toEqual({
			reorderAt: 280,
			orderUpTo: 580,
			order: 300,
			because: "runs low",
			dueAtMs: START_MS + 32 * DAY_MS,
		});
	});

	it("let what expires be got anew 30 days before, all of it", () => {
		const levels = itemLevels(stock({ held: 600, usePerDay: 1, expiresAtMs: START_MS + 40 * DAY_MS }), rules, START_MS);
		expect(levels).toMatchObject({ because: "expires", order: 600, dueAtMs: START_MS + 10 * DAY_MS });
	});

	it("follow what somebody has set, and ask for nothing that nobody uses or waits for", () => {
		expect(itemLevels(stock({ held: 2, reorderAt: 2, orderUpTo: 6 }), rules, START_MS)).toMatchObject({
			order: 4,
			dueAtMs: START_MS,
		});
		expect(itemLevels(stock({ held: 0 }), rules, START_MS).dueAtMs).toBeNull();
	});
});

onEachDatabase("salt, reagent and gear", (kind) => {
	let world: World;
	let items: StockItems;
	let code: string;
	let made = 0;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		items = world.the(StockItems);
	});
	beforeEach(() => {
		world.clock.moveTo(START_MS);
		code = `I${++made}`;
	});
	afterEach(async () => expect((await checkSums(world.store)).broken).toEqual([]));
	afterAll(() => world.remove());
	const register = (over: object = {}) =>
		items.register({
			code,
			kind: "reagent",
			holderCode: "vol",
			generatorCode: null,
			quantity: 300,
			expiresOn: null,
			usePerDay: 5,
			reorderAt: null,
			orderUpTo: null,
			...over,
		});
	const move = (over: object) =>
		items.move(code, { kind: "used", quantity: 10, atMs: world.clock.nowMs(), byPersonId: null, note: null, ...over });
	const held = async () =>
		(await world.store.query<{ held: number }>("SELECT held FROM stock_item WHERE code = $1", [code]))[0]?.held;
	const tasks = async () => {
		const [item] = await world.store.query<{ id: string }>("SELECT id FROM stock_item WHERE code = $1", [code]);
		return (await world.tasks()).filter(({ subjectId }) => subjectId === item?.id);
	};
	const reply = (body: string) =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${world.ids.next()}`, fromAddress: "+447700900002", body });

	it("are asked for when use has brought them to the level, and come by the answer", async () => {
		// 5 drops a day: 140 drops are the level, 290 the most; 300 last 32 days until then.
		await register();
		world.clock.advance(31 * DAY_MS);
		await world.sweep.openDue();
		expect(await tasks()).toEqual([]);
		await move({ quantity: 170 });
		await world.sweep.openDue();
		const [task] = await tasks();
		expect(task).toMatchObject({ kind: "replenish item", assigneeId: "vol", state: "open" });
		expect(JSON.parse(task?.brief ?? "{}")).toMatchObject({ held: 130, unit: "drop", quantity: 160, orderUpTo: 290 });
		await reply(`${task?.code} 0.5`);
		expect(await held()).toBe(130);
		expect(await reply(`${task?.code} done`)).toMatchObject({ outcome: "accepted" });
		expect(await held()).toBe(290);
		expect((await tasks())[0]?.state).toBe("done");
	});

	it("aren't asked for any more when they have come in another way", async () => {
		await register({ quantity: 100 });
		await world.sweep.openDue();
		expect((await tasks())[0]?.state).toBe("open");
		await move({ kind: "received", quantity: 400 });
		await world.sweep.openDue();
		expect((await tasks())[0]?.state).toBe("withdrawn");
	});

	it("are thrown away when they expire and are replaced", async () => {
		await register({ expiresOn: "2026-03-20", usePerDay: 1, quantity: 200 });
		await world.sweep.openDue();
		const [task] = await tasks();
		expect(JSON.parse(task?.brief ?? "{}")).toMatchObject({ because: "expires", expiresOn: "2026-03-20" });
		await reply(`${task?.code} 150`);
		expect(await held()).toBe(150);
	});

	it.each([
		["more than is there", { quantity: 301 }, "more-than-held", "/quantity"],
		["half a drop", { quantity: 0.5 }, "invalid-input", "/quantity"],
		["nothing", { quantity: 0 }, "invalid-input", "/quantity"],
		["less than nothing", { kind: "received", quantity: -5 }, "invalid-input", "/quantity"],
		["tomorrow", { atMs: START_MS + DAY_MS }, "time-in-future", "/at"],
	])("refuse %s and keep nothing of it", async (_, over, refusal, at) => {
		await register();
		await expect(move(over)).rejects.toMatchObject({ code: refusal, problems: [{ at }] });
		expect(await held()).toBe(300);
	});

	it("refuse an unknown holder and a code that is taken", async () => {
		await expect(register({ holderCode: "nobody" })).rejects.toMatchObject({
			code: "unknown-subject",
			problems: [{ at: "/holderCode" }],
		});
		await register();
		await expect(register()).rejects.toMatchObject({ code: "conflict" });
	});
});
