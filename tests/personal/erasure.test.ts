import { StoredPushSubscriptions } from "../../src/messages/push-subscriptions.js";
import { Receipts } from "../../src/messages/receipts.js";
import { Clearing } from "../../src/personal/clearing.js";
import { Consents } from "../../src/personal/consents.js";
import { Erasure } from "../../src/personal/erasure.js";
import { OwnData } from "../../src/personal/own-data.js";
import { DAY_MS } from "../../src/time/clock.js";
import { aMessage, aPerson } from "../support/builders.js";
import { lookingFor } from "../support/looking-for.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

const PHONE = "+447700900701";
const EMAIL = "zz.mailbox@mail.example.org";
const NAME = "Xolisile Mbekhwana";

onEachDatabase("what is held about a person", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterEach(() => world.remove());

	const looked = lookingFor({ numbers: [PHONE], words: ["Xolisile", "Mbekhwana", "zz.mailbox"] });
	/** Every value of every table, opened as the program itself sees it. */
	async function everything(): Promise<string> {
		const tables = world.store.writer.entityMetadatas.map(({ tableName }) => tableName);
		const rows = await Promise.all(tables.map((table) => world.store.query(`SELECT * FROM "${table}"`)));
		return JSON.stringify(rows);
	}
	async function figures(): Promise<unknown> {
		const counts = [
			"person",
			"task",
			"message",
			"reply",
			"strength_test",
			"batch",
			"message_failure",
			"message_receipt",
			"absence",
		].map(async (table) => [table, await world.store.query(`SELECT count(*) AS n FROM ${table}`)]);
		const readings = await world.store.query(
			"SELECT id, batch_id, reading, low_g_per_l, tester_id FROM strength_test ORDER BY id",
		);
		const tasks = await world.store.query(
			"SELECT id, code, kind, state, assignee_id, closed_at_ms, outcome FROM task ORDER BY id",
		);
		const replies = await world.store.query("SELECT id, outcome, person_id, task_id, received_at_ms FROM reply ORDER BY id");
		// What waited for her is withdrawn.
		const segments = await world.store.query(
			"SELECT state, count(*) AS n, sum(segments) AS parts FROM message WHERE state IN ('sent', 'failed') GROUP BY state ORDER BY state",
		);
		return { counts: await Promise.all(counts), readings, tasks, replies, segments };
	}

	/** She tests a jar, writes, is written about, subscribes, and hands nothing over. */
	async function lived(): Promise<void> {
		await aPerson(world.store, {
			...{ id: "zz", code: "Z1", areaId: "area", supervisorId: "sup", name: NAME, phoneE164: PHONE, email: EMAIL },
		});
		const { id } = await aBatch(world, "B1", { keeperCode: "Z1" });
		await world.live(6);
		const [task] = await world.tasks();
		const text = (channelMessageId: string, body: string, fromAddress = PHONE) =>
			world.replies.receive({ channel: "sms", channelMessageId, fromAddress, body });
		await text("r1", `${NAME} here, my number is 07700 900701, what now`);
		await text("r2", "what now again");
		await text("r3", `${task?.code} can't`);
		await text("r4", "hello", EMAIL);
		await world
			.the(Consents)
			.give("Z1", { purpose: "messages", textVersion: "1", obtained: "on paper", givenAtMs: world.clock.nowMs() });
		await world.the(StoredPushSubscriptions).add("zz", { endpoint: `https://push.example.org/${EMAIL}`, p256dh: "p", auth: "a" });
		const message = await aMessage(world.store, {
			recipientId: "zz",
			state: "sent",
			endedAtMs: world.clock.nowMs(),
			channel: "sms",
		});
		await aMessage(world.store, {
			...{ recipientId: "sup", text: "stop.supervisor", fill: { name: NAME }, state: "sent", nextTryAtMs: null },
			...{ endedAtMs: world.clock.nowMs() },
		});
		await world
			.the(Receipts)
			.take([{ channel: "sms", channelMessageId: "c1", state: "failed", reason: `absent: ${PHONE}`, atMs: world.clock.nowMs() }]);
		await world.store.work.run(async (tx) => {
			await tx.affected("UPDATE message_receipt SET message_id = $1 WHERE channel_message_id = 'c1'", [message.id]);
			await tx.affected("UPDATE batch SET keeper_id = 'vol' WHERE id = $1", [id]);
			await tx.affected("UPDATE task SET assignee_id = 'vol' WHERE state = 'open'");
			await tx.insert(
				"volunteer_capacity",
				["person_id", "latitude_deg", "longitude_deg", "changed_at_ms"],
				[["zz", -1.5, 37, 0]],
			);
		});
	}

	it("is copied whole for herself, others by their codes alone, and no secret with it", async () => {
		await lived();
		const copy = await world.the(OwnData).of("Z1");
		const tables = copy.held.map(({ table }) => table);
		for (const table of [
			"person",
			"volunteer_capacity",
			"consent",
			"push_subscription",
			"message",
			"reply",
			"ledger_entry",
			"task",
		])
			expect(tables).toContain(table);
		const text = JSON.stringify(copy);
		for (const hers of [NAME, PHONE, EMAIL, "what now again"]) expect(text).toContain(hers);
		for (const others of ["Invented Volunteer", "+447700900002", "Invented Supervisor"]) expect(text).not.toContain(others);
		expect(text).not.toMatch(/p256dh|"auth"/);
		await expect(world.the(OwnData).of("nobody")).rejects.toMatchObject({ code: "unknown-subject" });
	});

	it("goes when she is erased: nothing of it is left in any table, and every figure and code is as before", async () => {
		await lived();
		const before = await figures();
		expect(looked(await everything()).length).toBeGreaterThan(3);
		const cleared = await world.the(Erasure).erase("Z1", "office");
		expect(cleared).toMatchObject({ texts: 4, browsers: 1 });
		expect(cleared["names"]).toBeGreaterThan(0);
		expect(looked(await everything())).toEqual([]);
		expect(await figures()).toEqual(before);
		const [person] = await world.store.query("SELECT code, name, phone_e164, active FROM person WHERE id = 'zz'");
		expect({ ...person, active: Boolean(person?.["active"]) }).toEqual({ code: "Z1", name: "", phoneE164: null, active: false });
		const [entry] = await world.store.query("SELECT action, subject_id FROM ledger_entry WHERE action = 'person erased'");
		expect(entry).toEqual({ action: "person erased", subjectId: "zz" });
		expect(await world.the(Erasure).erase("Z1", "office")).toMatchObject({ texts: 0, names: 0, browsers: 0 });
	});

	it("isn't erased while work is hers: what she has is told, and nothing is changed", async () => {
		await lived();
		await world.store.work.run((tx) =>
			tx.affected(
				"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('h', 'H', 'area', 'zz', 5, 'well', 'clear')",
			),
		);
		await expect(world.the(Erasure).erase("Z1", "office")).rejects.toMatchObject({
			code: "conflict",
			message: expect.stringContaining("1 households"),
		});
		expect(looked(await everything()).length).toBeGreaterThan(3);
	});

	it("is cleared once a day when its time is over: words and names of a year ago go, every figure stays, and the ledger counts them", async () => {
		await lived();
		const clearing = world.the(Clearing);
		expect(await clearing.ofToday()).toMatchObject({ texts: 0, names: 0, people: 0 });
		expect(await clearing.ofToday()).toBeUndefined();
		await world.store.work.run((tx) =>
			tx.affected(
				"INSERT INTO absence (id, person_id, reason, from_on, recorded_at_ms) VALUES ('gone', 'zz', 'left', '2026-03-10', 0)",
			),
		);
		await world.store.work.run((tx) => tx.affected("UPDATE person SET active = $1 WHERE id = 'zz'", [false]));
		world.clock.advance(366 * DAY_MS);
		const before = await figures();
		const later = await clearing.ofToday();
		expect(later).toMatchObject({ texts: 4, receipts: 1, people: 0 });
		expect(later?.["names"]).toBeGreaterThan(0);
		expect(await figures()).toEqual(before);
		const left = await everything();
		expect(left).not.toContain("what now again");
		expect(left).not.toContain(`absent: ${PHONE}`);
		// She has left, but her own two years aren't over.
		expect(left).toContain(PHONE);
		world.clock.advance(400 * DAY_MS);
		expect(await clearing.ofToday()).toMatchObject({ texts: 0, people: 1 });
		expect(looked(await everything())).toEqual([]);
		expect(await figures()).toEqual(before);
		expect(await world.store.query("SELECT count(*) AS n FROM ledger_entry WHERE action = 'personal data cleared'")).toEqual([
			{ n: 3 },
		]);
	});
});
