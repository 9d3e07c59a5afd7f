import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("work that nobody looks after", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterEach(() => world.remove());

	const write = (sql: string, parameters: unknown[] = []) => world.store.work.run((tx) => tx.affected(sql, parameters));
	const told = async () => (await world.messages()).map(({ text, recipientId }) => [text, recipientId]);

	it("goes to the area's supervisor at once, who can answer it by text", async () => {
		await aBatch(world, "B1", { keeperCode: null });
		world.clock.advance(20 * DAY_MS);
		await world.sweep.openDue();
		const [task] = await world.tasks();
		expect(task).toMatchObject({ assigneeId: "sup", state: "open" });
		expect(await told()).toEqual([["retest.first", "sup"]]);
		const text = { channel: "sms", channelMessageId: "m1", fromAddress: "+447700900001", body: `${task?.code} 2` };
		expect(await world.replies.receive(text)).toMatchObject({ outcome: "accepted" });
	});

	it("reminds the supervisor who stands in as one who does it, and doesn't tell her that she hasn't answered", async () => {
		await aBatch(world, "B1", { keeperCode: null });
		await world.live(30);
		expect(await told()).toEqual([
			["retest.first", "sup"],
			["retest.again", "sup"],
			["retest.again", "sup"],
		]);
	});

	it("goes to the supervisor of a volunteer who has left", async () => {
		await aBatch(world);
		await write("UPDATE person SET active = $1 WHERE id = 'vol'", [false]);
		world.clock.advance(20 * DAY_MS);
		await world.sweep.openDue();
		expect((await world.tasks())[0]).toMatchObject({ assigneeId: "sup" });
		expect(await told()).toEqual([["retest.first", "sup"]]);
	});

	it("goes to the nearest area above that has a supervisor, where its own has none", async () => {
		await write(
			`INSERT INTO area (id, parent_id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
			 SELECT 'below', 'area', 'A2', 'Invented area below', time_zone, latitude_deg, longitude_deg, altitude_m, climate FROM area WHERE id = 'area'`,
		);
		await aBatch(world, "B1", { areaCode: "A2", keeperCode: null });
		world.clock.advance(20 * DAY_MS);
		await world.sweep.openDue();
		expect((await world.tasks())[0]).toMatchObject({ assigneeId: "sup" });
	});

	it("stays with a volunteer who only wants no messages: her supervisor hears of it by the ladder", async () => {
		await aBatch(world);
		await write("UPDATE person SET opted_out_at_ms = $1 WHERE id = 'vol'", [world.clock.nowMs()]);
		await world.live(30);
		expect((await world.tasks())[0]).toMatchObject({ assigneeId: "vol" });
		expect(await told()).toEqual([["retest.supervisor", "sup"]]);
	});

	it("is opened without anybody where there is no supervisor at all, so that the office sees it", async () => {
		await write("UPDATE person SET active = $1", [false]);
		await aBatch(world, "B1", { keeperCode: null });
		world.clock.advance(20 * DAY_MS);
		await world.sweep.openDue();
		expect((await world.tasks())[0]).toMatchObject({ assigneeId: null, state: "open" });
		expect(await told()).toEqual([]);
	});
});
