import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Heads, headFrom, headText } from "../../src/ledger/heads.js";
import { record } from "../../src/ledger/ledger.js";
import { from } from "../../src/ledger/origin.js";
import { headOf, Sealer, waitingOf } from "../../src/ledger/sealer.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import { Store } from "../../src/store/store.js";
import { newDatabase, newStore, onEachDatabase } from "../support/stores.js";
import { START_MS, Written } from "./written.js";

onEachDatabase("sealing the ledger", (kind) => {
	it("gives every entry one place, without a gap, while units of work commit side by side and three seal at once", async () => {
		const store = await newStore(kind);
		const others = kind === "postgres" ? [await store.again(), await store.again()] : [];
		try {
			const written = new Written(store);
			const sealers = [store, ...others].map((each) => new Sealer(each, written.clock));
			const units = Array.from({ length: 120 }, (_, i) =>
				[store, ...others][i % (others.length + 1)]!.work.run(async (tx) => {
					await record(tx, written.ids, [written.entry(i), written.entry(i + 1000)]);
					await new Promise((resolve) => setImmediate(resolve));
					if (i % 4 === 3) throw new Error("rolled back on purpose");
					await record(tx, written.ids, [written.entry(i + 2000)]);
				}),
			);
			let writing = true;
			const sealing = sealers.map(async (sealer) => {
				let sealed = 0;
				while (writing) {
					sealed += await sealer.seal();
					await new Promise((resolve) => setImmediate(resolve));
				}
				return sealed;
			});
			await Promise.allSettled(units);
			writing = false;
			await Promise.all(sealing);
			await written.sealer.seal();
			expect(await waitingOf(store)).toEqual({ entries: 0, oldestAtMs: null });
			expect((await headOf(store)).position).toBe(90 * 3);
			expect(await verifyLedger(store)).toMatchObject({ findings: [], entries: 270, from: 1 });
		} finally {
			for (const other of others) await other.close();
			await store.remove();
		}
	});

	it("keeps who, when, what, why and from where, and counts what isn't sealed yet", async () => {
		const store = await newStore(kind);
		try {
			const written = new Written(store);
			await from("command test", () => written.unit(1));
			expect(await store.query("SELECT actor, at_ms, action, because, origin FROM ledger_entry")).toEqual([
				{ actor: "office", atMs: START_MS + 1000, action: "thing 0 changed", because: "counted again", origin: "command test" },
			]);
			expect(await waitingOf(store)).toEqual({ entries: 1, oldestAtMs: START_MS + 1000 });
			expect(await verifyLedger(store)).toMatchObject({ findings: [], entries: 0, waiting: { entries: 1 } });
			expect(await written.sealer.seal()).toBe(1);
			expect(await written.sealer.seal()).toBe(0);
		} finally {
			await store.remove();
		}
	});

	it("is held to by the database itself: a row that was added can be neither changed nor removed", async () => {
		const store = await newStore(kind);
		try {
			const written = new Written(store);
			await written.units([2, 0]);
			await new Heads(store, written.clock, written.ids).give("printed", "office");
			// The driver's errors may be of another realm than this file's: what they say is looked at.
			const outcome = (statement: string) =>
				store.work
					.run((tx) => tx.query(statement))
					.then(
						() => "done",
						(error) => String((error as Error).message),
					);
			for (const table of ["ledger_entry", "ledger_seal", "ledger_anchor"]) {
				const column = table === "ledger_entry" ? "actor" : "hash";
				for (const statement of [`UPDATE ${table} SET ${column} = 'other'`, `DELETE FROM ${table}`])
					expect(await outcome(statement)).toContain(`rows of ${table} are only ever added`);
			}
			if (kind === "postgres") expect(await outcome("TRUNCATE ledger_entry")).toContain("only ever added");
			expect((await verifyLedger(store)).findings).toEqual([]);
		} finally {
			await store.remove();
		}
	});

	it("holds later verifications against each head that was given out, which is read as it was printed", async () => {
		const store = await newStore(kind);
		try {
			const written = new Written(store);
			const heads = new Heads(store, written.clock, written.ids);
			await expect(heads.give("printed", "office")).rejects.toThrow("no sealed entry yet");
			await written.units([2, 0]);
			const given = await heads.give("printed", "office");
			await written.units([1, 0]);
			expect(await heads.given()).toEqual([given]);
			expect(headFrom(headText(given))).toEqual({ position: 2, hash: given.hash });
			expect(headFrom(`  2 : ${given.hash.toUpperCase().replaceAll(/(.{8})/g, "$1\n ")}`)).toEqual({
				position: 2,
				hash: given.hash,
			});
			for (const wrong of [
				"",
				"2",
				`2-${given.hash.slice(1)}`,
				given.hash,
				`2-${given.hash}0`,
				`2-${given.hash.replace(/.$/, "g")}`,
			])
				expect(() => headFrom(wrong)).toThrow("64 hexadecimal digits");
			expect(await verifyLedger(store, 1, [given])).toMatchObject({ findings: [], anchors: 2, entries: 4 });
			// Begun later, what lies before is believed.
			expect(await verifyLedger(store, 3)).toMatchObject({ findings: [], from: 3, entries: 2 });
		} finally {
			await store.remove();
		}
	});

	it("puts entries from before the chain into it, in the order of their instants, and makes them as they were when undone", async () => {
		const database = await newDatabase(kind);
		const at = migrations.findIndex(({ name }) => name.startsWith("LedgerChain"));
		const before = await Store.open({ location: database.location, entities: [], migrations: migrations.slice(0, at) });
		const old = Array.from({ length: 2500 }, (_, i) => [
			`old-${(i * 7919) % 2500}`,
			START_MS + Math.floor(i / 3) * 1000,
			"office",
			`did “${i}”`,
			"thing",
			"T",
			i % 2 ? "a" : null,
			JSON.stringify({ i }),
		]);
		const columns = ["id", "at_ms", "actor", "action", "subject_kind", "subject_id", "area_id", "detail"];
		await before.work.run((tx) => tx.insert("ledger_entry", columns, old));
		await before.close();
		const after = await Store.open({ location: database.location, entities, migrations });
		const written = new Written(after);
		expect(await waitingOf(after)).toMatchObject({ entries: 2500 });
		await written.units([1, 0]);
		expect(await verifyLedger(after)).toMatchObject({ findings: [], entries: 2501 });
		const links = await after.query<{ entryIds: string }>("SELECT entry_ids FROM ledger_seal ORDER BY first_position");
		const order = links.flatMap(({ entryIds }) => JSON.parse(entryIds) as string[]);
		const atOf = new Map(old.map(([id, atMs]) => [id, atMs as number]));
		const instants = order.slice(0, 2500).map((id) => atOf.get(id));
		expect(instants).toEqual(instants.toSorted((a, b) => a! - b!));
		for (let step = migrations.length; step > at; step--) await after.writer.undoLastMigration();
		expect(await after.query(`SELECT ${columns.join(", ")} FROM ledger_entry WHERE action LIKE 'did%'`)).toHaveLength(2500);
		await after.close();
		await database.remove();
	});
});
