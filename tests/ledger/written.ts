import { type LedgerEntry, record } from "../../src/ledger/ledger.js";
import { Sealer } from "../../src/ledger/sealer.js";
import type { Store } from "../../src/store/store.js";
import type { Transaction } from "../../src/store/unit-of-work.js";
import { VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { unguarded } from "../support/unguarded-ledger.js";

export const START_MS = Date.UTC(2026, 0, 1);

/** Writes and seals invented entries. */
export class Written {
	readonly clock = new VirtualClock(START_MS);
	readonly ids: Ids;
	readonly sealer: Sealer;

	constructor(readonly store: Store) {
		this.ids = new Ids(this.clock, new SeededRandomness(7));
		this.sealer = new Sealer(store, this.clock);
	}

	entry(number: number): LedgerEntry {
		return {
			atMs: this.clock.nowMs(),
			actor: "office",
			action: `thing ${number} changed`,
			subjectKind: "thing",
			subjectId: `T${number}`,
			detail: { before: number, after: number + 1, because: number % 2 ? "asked for" : "counted again" },
		};
	}

	/** One unit of work with so many entries. */
	async unit(entries: number): Promise<void> {
		this.clock.advance(1000);
		await this.store.work.run((tx) =>
			record(
				tx,
				this.ids,
				Array.from({ length: entries }, (_, i) => this.entry(i)),
			),
		);
	}

	/** Units of work of these sizes; a zero seals what waits. */
	async units(sizes: readonly number[]): Promise<void> {
		for (const size of sizes) await (size === 0 ? this.sealer.seal() : this.unit(size));
	}
}

/** Does what nobody may do, looks, and takes it back. @returns what was seen */
export async function meanwhile<T>(
	store: Store,
	tamper: (tx: Transaction) => Promise<unknown>,
	look: () => Promise<T>,
): Promise<T> {
	const undone = new Error("taken back");
	let seen: { readonly value: T } | undefined;
	await store.work
		.run(async (tx) => {
			await unguarded(tx);
			await tamper(tx);
			seen = { value: await look() };
			throw undone;
		})
		.catch((error) => {
			if (error !== undone) throw error;
		});
	return seen!.value;
}
