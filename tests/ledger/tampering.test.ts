import fc from "fast-check";
import { headOf } from "../../src/ledger/sealer.js";
import { type Verification, verifyLedger } from "../../src/ledger/verify.js";
import type { Transaction } from "../../src/store/unit-of-work.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { meanwhile, Written } from "./written.js";

interface Seal {
	readonly firstPosition: number;
	readonly entries: number;
	readonly entryIds: string;
	readonly digests: string;
	readonly hash: string;
}

/** What a tampering was done to: one of these must be named. */
interface Done {
	readonly entryIds?: readonly string[];
	readonly positions?: readonly number[];
}

/** Picks one of so many. */
type Pick = (count: number) => number;

interface Case {
	readonly name: string;
	readonly picks: readonly number[];
	readonly more: readonly number[];
}

const TAMPERINGS: Readonly<Record<string, (tx: Transaction, pick: Pick) => Promise<Done>>> = {
	"change a column of an entry": async (tx, pick) => {
		const [id] = await someEntry(tx, pick);
		const column = ENTRY_COLUMNS[pick(ENTRY_COLUMNS.length)]!;
		const other = column === "at_ms" ? "at_ms + 1" : `COALESCE(${column}, '') || '~'`;
		await tx.query(`UPDATE ledger_entry SET ${column} = ${other} WHERE id = $1`, [id]);
		return { entryIds: column === "id" ? [id, `${id}~`] : [id] };
	},
	"leave out what may be absent of an entry": async (tx, pick) => {
		const [id] = await someEntry(tx, pick);
		await tx.query(`UPDATE ledger_entry SET ${pick(2) ? "because" : "origin"} = NULL WHERE id = $1`, [id]);
		return { entryIds: [id] };
	},
	"move a border between two columns of an entry": async (tx, pick) => {
		const [id] = await someEntry(tx, pick);
		await tx.query("UPDATE ledger_entry SET actor = actor || substr(action, 1, 1), action = substr(action, 2) WHERE id = $1", [
			id,
		]);
		return { entryIds: [id] };
	},
	"remove an entry": async (tx, pick) => {
		const [id] = await someEntry(tx, pick);
		await tx.query("DELETE FROM ledger_entry WHERE id = $1", [id]);
		return { entryIds: [id] };
	},
	"swap what two entries say": async (tx, pick) => {
		const [one, other] = await someEntry(tx, pick);
		for (const [from, to] of [
			[one, "~"],
			[other, one],
			["~", other],
		])
			await tx.query("UPDATE ledger_entry SET id = $2 WHERE id = $1", [from, to]);
		return { entryIds: [one, other] };
	},
	"put an entry in": async (tx, pick) => {
		const [id] = await someEntry(tx, pick);
		const rest = ENTRY_COLUMNS.filter((column) => column !== "id").join(", ");
		await tx.query(`INSERT INTO ledger_entry (id, ${rest}) SELECT id || '~', ${rest} FROM ledger_entry WHERE id = $1`, [id]);
		return { entryIds: [`${id}~`] };
	},
	"remove an entry and put another in": async (tx, pick) => {
		const [one, other] = await someEntry(tx, pick);
		const rest = ENTRY_COLUMNS.filter((column) => column !== "id").join(", ");
		await tx.query(`INSERT INTO ledger_entry (id, ${rest}) SELECT id || '~', ${rest} FROM ledger_entry WHERE id = $1`, [one]);
		await tx.query("DELETE FROM ledger_entry WHERE id = $1", [other]);
		return { entryIds: [`${one}~`] };
	},
	"change a column of a link": async (tx, pick) => {
		const seal = await someSeal(tx, pick);
		const change = [
			"entries = entries + 1",
			"sealed_at_ms = sealed_at_ms - 1",
			"hash = substr(hash, 2) || substr(hash, 1, 1)",
			"entry_ids = replace(entry_ids, '0', '1')",
			"digests = '[]'",
			"digests = '{'",
			"entry_ids = '[1'",
		];
		await tx.query(`UPDATE ledger_seal SET ${change[pick(change.length)]} WHERE first_position = $1`, [seal.firstPosition]);
		return { positions: [seal.firstPosition] };
	},
	"renumber a link": async (tx, pick) => {
		const seal = await someSeal(tx, pick);
		await tx.query("UPDATE ledger_seal SET first_position = $2 WHERE first_position = $1", [
			seal.firstPosition,
			pick(2) ? seal.firstPosition + 100_000 : -seal.firstPosition,
		]);
		return {
			positions: [seal.firstPosition, seal.firstPosition + 100_000, -seal.firstPosition, seal.firstPosition + seal.entries],
		};
	},
	"remove a link that others follow": async (tx, pick) => {
		const seals = await allSeals(tx);
		const { firstPosition } = seals[pick(seals.length - 1)]!;
		await tx.query("DELETE FROM ledger_seal WHERE first_position = $1", [firstPosition]);
		return { positions: [firstPosition] };
	},
	"swap two links": async (tx, pick) => {
		const seals = await allSeals(tx);
		const at = pick(seals.length - 1);
		const [one, other] = [seals[at]!, seals[at + 1]!];
		await tx.query("UPDATE ledger_seal SET first_position = -1 WHERE first_position = $1", [one.firstPosition]);
		await tx.query("UPDATE ledger_seal SET first_position = $2 WHERE first_position = $1", [
			other.firstPosition,
			one.firstPosition,
		]);
		await tx.query("UPDATE ledger_seal SET first_position = $1 WHERE first_position = -1", [one.firstPosition + other.entries]);
		return { positions: [one.firstPosition] };
	},
	"change an entry with its digest": async (tx, pick) => {
		const seal = await someSeal(tx, pick);
		const digests = JSON.parse(seal.digests) as string[];
		digests[pick(digests.length)] = "0".repeat(64);
		await tx.query("UPDATE ledger_seal SET digests = $2 WHERE first_position = $1", [
			seal.firstPosition,
			JSON.stringify(digests),
		]);
		return { positions: [seal.firstPosition] };
	},
	"change an entry's place in its link, with its digest": async (tx, pick) => {
		const seals = (await allSeals(tx)).filter(({ entries }) => entries > 1);
		const seal = seals[pick(seals.length)]!;
		const turned = [seal.entryIds, seal.digests].map((list) => JSON.stringify((JSON.parse(list) as string[]).reverse()));
		await tx.query("UPDATE ledger_seal SET entry_ids = $2, digests = $3 WHERE first_position = $1", [
			seal.firstPosition,
			...turned,
		]);
		return { positions: [seal.firstPosition] };
	},
	"put a link in": async (tx, pick) => {
		const seal = await someSeal(tx, pick);
		await tx.query(
			"INSERT INTO ledger_seal (first_position, entries, entry_ids, digests, sealed_at_ms, hash) SELECT first_position + 200000, entries, entry_ids, digests, sealed_at_ms, hash FROM ledger_seal WHERE first_position = $1",
			[seal.firstPosition],
		);
		return { positions: await endOf(tx, seal.firstPosition + 200_000) };
	},
	"remove an entry that waits": async (tx) => {
		const id = await waitingEntry(tx);
		await tx.query("DELETE FROM ledger_entry WHERE id = $1", [id]);
		return { entryIds: [id] };
	},
	"change an entry that waits": async (tx) => {
		const id = await waitingEntry(tx);
		await tx.query("UPDATE ledger_entry SET detail = '{}' WHERE id = $1", [id]);
		return { entryIds: [id] };
	},
	"remove a sheet that waits": async (tx) => {
		const id = await waitingEntry(tx);
		await tx.query("DELETE FROM ledger_waiting");
		return { entryIds: [id] };
	},
};

const ENTRY_COLUMNS = ["id", "at_ms", "actor", "action", "subject_kind", "subject_id", "area_id", "detail", "because", "origin"];

onEachDatabase("verifying the ledger", (kind) => {
	it("finds and names any single thing that is changed, removed, put in, swapped or renumbered in a random ledger", async () => {
		const store = await newStore(kind);
		try {
			const written = new Written(store);
			await written.units([3, 1, 0, 5, 0, 1, 0, 2, 2, 1, 0, 1, 0, 7, 0, 4, 1]);
			const size = fc.integer({ min: 0, max: 6 });
			const name = fc.constantFrom(...Object.keys(TAMPERINGS));
			const picks = fc.array(fc.nat(10_000), { minLength: 4, maxLength: 4 });
			const cases = fc.record({ name, picks, more: fc.array(size, { maxLength: 3 }) });
			await fc.assert(
				fc.asyncProperty(cases, async ({ name, picks, more }) => {
					await written.units(more);
					await written.unit(2);
					expect((await verifyLedger(store)).findings).toEqual([]);
					let picked = 0;
					const pick: Pick = (count) => picks[picked++ % picks.length]! % count;
					let done: Done = {};
					const seen = await meanwhile(
						store,
						async (tx) => {
							done = await TAMPERINGS[name]!(tx, pick);
						},
						() => verifyLedger(store),
					);
					expect({ name, named: names(seen, done), findings: seen.findings }).toMatchObject({ named: true });
				}),
				{
					numRuns: 100,
					examples: Object.keys(TAMPERINGS).map((name): [Case] => [{ name, picks: [1, 2, 3, 4], more: [] }]),
				},
			);
		} finally {
			await store.remove();
		}
	}, 120_000);

	it("finds a tail that was removed with all that tells of it, by a head that was given out", async () => {
		const store = await newStore(kind);
		try {
			const written = new Written(store);
			await written.units([2, 0, 3, 0, 4, 0]);
			const head = await headOf(store);
			expect(head.position).toBe(9);
			const cut = async (tx: Transaction) => {
				const [last] = (await allSeals(tx)).slice(-1);
				await tx.query("DELETE FROM ledger_seal WHERE first_position = $1", [last!.firstPosition]);
				for (const id of JSON.parse(last!.entryIds)) await tx.query("DELETE FROM ledger_entry WHERE id = $1", [id]);
			};
			const without = await meanwhile(store, cut, () => verifyLedger(store));
			expect(without.findings).toEqual([]);
			const { findings } = await meanwhile(store, cut, () => verifyLedger(store, 1, [head]));
			expect(findings).toEqual([
				expect.objectContaining({
					kind: "removed",
					position: 6,
					message: expect.stringContaining("positions 6 to 9 were removed"),
				}),
			]);
			expect(await verifyLedger(store, 1, [head])).toMatchObject({ findings: [], anchors: 1, entries: 9 });
		} finally {
			await store.remove();
		}
	});

	it("finds a chain that was made anew after a change, by a head that was given out, and says after which head that agrees", async () => {
		const store = await newStore(kind);
		try {
			const written = new Written(store);
			await written.units([2, 0]);
			const early = await headOf(store);
			await written.units([3, 0, 4, 0]);
			const late = await headOf(store);
			const forged = { ...late, hash: late.hash.replace(/^./, (digit) => (digit === "0" ? "1" : "0")) };
			expect((await verifyLedger(store, 1, [early, forged])).findings).toEqual([
				expect.objectContaining({ kind: "other head", position: 9, message: expect.stringContaining("after position 2") }),
			]);
			expect((await verifyLedger(store, 1, [{ ...early, position: 1 }])).findings).toEqual([
				expect.objectContaining({ kind: "other head", position: 1 }),
			]);
		} finally {
			await store.remove();
		}
	});
});

function names({ findings }: Verification, { entryIds = [], positions = [] }: Done): boolean {
	return findings.some(
		({ entryId, position }) =>
			(entryId !== null && entryIds.includes(entryId)) || (position !== null && positions.includes(position)),
	);
}

function allSeals(tx: Transaction): Promise<Seal[]> {
	return tx.query<Seal>("SELECT first_position, entries, entry_ids, digests, hash FROM ledger_seal ORDER BY first_position");
}

async function someSeal(tx: Transaction, pick: Pick): Promise<Seal> {
	const seals = await allSeals(tx);
	return seals[pick(seals.length)]!;
}

/** @returns two different entries that are sealed */
async function someEntry(tx: Transaction, pick: Pick): Promise<[string, string]> {
	const ids = (await allSeals(tx)).flatMap(({ entryIds }) => JSON.parse(entryIds) as string[]);
	const at = pick(ids.length);
	return [ids[at]!, ids[(at + 1 + pick(ids.length - 1)) % ids.length]!];
}

async function waitingEntry(tx: Transaction): Promise<string> {
	const [sheet] = await tx.query<{ entryIds: string }>("SELECT entry_ids FROM ledger_waiting ORDER BY id DESC LIMIT 1");
	return (JSON.parse(sheet!.entryIds) as string[])[0]!;
}

/** @returns what a gap before a position begins with, and the position */
async function endOf(tx: Transaction, position: number): Promise<number[]> {
	const before = (await allSeals(tx)).filter(({ firstPosition }) => firstPosition < position).at(-1)!;
	return [before.firstPosition + before.entries, position];
}
