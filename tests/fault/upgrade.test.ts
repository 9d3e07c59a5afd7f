import { Sealer } from "../../src/ledger/sealer.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import { lookingFor } from "../support/looking-for.js";
import { RELEASED_AT_MS, releasedDatabase } from "../support/released.js";
import { onEachDatabase } from "../support/stores.js";
import { placeOn, type World, worldOn } from "../support/world.js";

/** What lies in the released file, counted there by sqlite3. */
const ON_FILE = {
	person: 17,
	household: 320,
	container: 531,
	batch: 61,
	strength_test: 147,
	residual_check: 874,
	stock_move: 2231,
	task: 106,
	message: 271,
	ledger_entry: 459,
};

onEachDatabase("a database that release 0.1.0 left", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await worldOn(placeOn(kind, await releasedDatabase(kind), RELEASED_AT_MS));
	}, 120_000);
	afterAll(() => world.remove());

	it("has every row that it had", async () => {
		for (const [table, rows] of Object.entries(ON_FILE))
			expect([table, (await world.store.query(`SELECT 1 FROM ${table}`)).length]).toEqual([table, rows]);
	});

	it("holds no name and no number that could be read any more", async () => {
		const looked = lookingFor({ numbers: ["+447700900114", "+447700900111"], words: ["Lucien", "Imani"] });
		expect(looked("+44 7700 900114 Imani")).toHaveLength(2);
		for (const { tableName } of world.store.writer.entityMetadatas)
			expect([tableName, looked(JSON.stringify(await world.store.writer.query(`SELECT * FROM "${tableName}"`)))]).toEqual([
				tableName,
				[],
			]);
	});

	it("links the ledger's old entries into the chain, which then is whole", async () => {
		await world.the(Sealer).seal();
		const { entries, findings, waiting } = await verifyLedger(world.store);
		expect(findings).toEqual([]);
		expect({ entries: entries >= ON_FILE.ledger_entry, waiting: waiting.entries }).toEqual({ entries: true, waiting: 0 });
	});

	it("takes the answer to a task that the release had opened, and tells the dose", async () => {
		const reply = await world.replies.receive({
			channel: "sms",
			channelMessageId: "after the upgrade",
			fromAddress: "+447700900111",
			body: "xk76m 4",
		});
		expect(reply).toMatchObject({ repeated: false });
		const [task] = await world.store.query<{ state: string }>("SELECT state FROM task WHERE code = 'XK76M'");
		expect(task?.state).toBe("done");
	});

	it("goes on opening what becomes due", async () => {
		const before = (await world.tasks()).length;
		await world.live(1);
		expect((await world.tasks()).length).toBeGreaterThan(before);
	}, 120_000);
});
