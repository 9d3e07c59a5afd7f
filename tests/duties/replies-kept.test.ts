import { TransientError } from "../../src/errors/errors.js";
import { MINUTE_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("a text that came in", (kind) => {
	let world: World;
	let code: string;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		await aBatch(world);
		await world.live(10);
		code = (await world.tasks())[0]?.code ?? "";
	});
	afterEach(() => world.remove());

	const text = (body: string, messageId = `m${Math.random()}`, from = "+447700900002") =>
		world.replies.receive({ channel: "sms", channelMessageId: messageId, fromAddress: from, body });
	const kept = () => world.store.query("SELECT body, outcome, person_id FROM reply ORDER BY id");
	/** Whatever the kind of work does, it breaks in the middle of its writing. */
	function breaks(error: Error): { mockRestore(): void } {
		return jest.spyOn(world.kinds.named("retest stored bleach"), "take").mockImplementation(async (tx) => {
			await tx.affected("UPDATE batch SET state = 'discarded'");
			throw error;
		});
	}

	it("is kept though a defect stands in the way of it: nothing half-written, marked, and she isn't left without an answer", async () => {
		const broken = breaks(new RangeError("the model takes no such thing"));
		expect(await text(`${code} 2`, "once")).toEqual({ outcome: "failed", repeated: false, taskCode: null });
		broken.mockRestore();
		expect(await kept()).toEqual([{ body: `${code} 2`, outcome: "failed", personId: "vol" }]);
		expect(await world.store.query("SELECT state FROM batch")).toEqual([{ state: "in use" }]);
		expect((await world.messages()).at(-1)).toMatchObject({ text: "reply.kept", recipientId: "vol" });
		expect(await world.store.query("SELECT actor FROM ledger_entry WHERE action = 'reply failed'")).toEqual([{ actor: "vol" }]);
		expect(await text(`${code} 2`, "once")).toEqual({ outcome: "failed", repeated: true, taskCode: null });
		expect((await world.tasks())[0]).toMatchObject({ state: "open" });
	});

	it("is kept while the database was away for a moment, and taken up when the gateway hands it in again", async () => {
		const broken = breaks(new TransientError("database-busy", "away"));
		await expect(text(`${code} 2`, "again")).rejects.toMatchObject({ code: "database-busy" });
		broken.mockRestore();
		expect(await kept()).toEqual([{ body: `${code} 2`, outcome: "received", personId: null }]);
		expect(await text(`${code} 2`, "again")).toMatchObject({ outcome: "accepted", repeated: false });
		expect(await kept()).toHaveLength(1);
	});

	it("is taken once when it is handed in twenty times at one moment", async () => {
		const outcomes = await Promise.all(Array.from({ length: 20 }, () => text(`${code} 2`, "same")));
		expect(outcomes.filter(({ repeated }) => !repeated)).toHaveLength(1);
		expect(new Set(outcomes.map(({ outcome }) => outcome))).toEqual(new Set(["accepted"]));
		expect(await world.store.query("SELECT count(*) AS n FROM strength_test")).toEqual([{ n: 1 }]);
	});

	it("is thanked for once when she sends her answer again, with the code or without", async () => {
		await text(`${code} 2`);
		const names = async () => (await world.messages()).map(({ text: name }) => name).filter((name) => name.startsWith("reply."));
		world.clock.advance(MINUTE_MS);
		expect(await text(`${code.toLowerCase()} 2 mg/l`)).toMatchObject({ outcome: "closed already" });
		expect(await names()).toEqual(["reply.thanksRepeat"]);
		expect(await text("2")).toMatchObject({ outcome: "closed already", taskCode: code });
		expect(await text(`${code} 2`)).toMatchObject({ outcome: "closed already" });
		expect(await names()).toEqual(["reply.thanksRepeat"]);
	});

	it("is told that the task is closed when she sends another reading, which may be a new one", async () => {
		await text(`${code} 2`);
		await text(`${code} 3`);
		expect((await world.messages()).at(-1)).toMatchObject({ text: "reply.closed" });
	});

	it("from a number that isn't on the list is kept and answered by nothing", async () => {
		const before = (await world.messages()).length;
		expect(await text(`${code} 2`, "m", "+447700900099")).toEqual({ outcome: "unknown number", repeated: false, taskCode: null });
		expect(await kept()).toEqual([{ body: `${code} 2`, outcome: "unknown number", personId: null }]);
		expect(await world.messages()).toHaveLength(before);
	});
});
