import { InputError } from "../errors/errors.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Anchor } from "./anchors.js";
import type { Head } from "./chain.js";
import { record } from "./ledger.js";
import { headOf } from "./sealer.js";

/** How a head left the ledger. */
export const WAYS_OUT = ["printed", "mailed", "copied"] as const;
export type WayOut = (typeof WAYS_OUT)[number];

export interface GivenHead extends Anchor {
	readonly id: string;
	readonly givenAtMs: number;
	readonly how: WayOut;
}

/** Gives heads out, to be kept where nobody who can change the database can change them too. */
export class Heads {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @returns the end of the chain; nothing is noted */
	current(): Promise<Head> {
		return headOf(this.store);
	}

	/**
	 * Notes that the head is given out: each verification holds the ledger against it from then on.
	 * @throws InputError `conflict` where there is none yet
	 */
	give(how: WayOut, actor: string): Promise<GivenHead> {
		return this.store.work.run(async (tx) => {
			const given = await this.giveIn(tx, how, actor);
			if (given) return given;
			throw new InputError("conflict", "The ledger has no sealed entry yet; there is no head to give out.", { status: 409 });
		});
	}

	/** The same within a unit of work. @returns none where there is no head yet */
	async giveIn(tx: Transaction, how: WayOut, actor: string): Promise<GivenHead | undefined> {
		const { position, hash } = await headOf(tx);
		if (position === 0) return undefined;
		const given: GivenHead = { id: this.ids.next(), position, hash, givenAtMs: this.clock.nowMs(), how };
		await tx.insert("ledger_anchor", COLUMNS, [[given.id, position, hash, given.givenAtMs, how]]);
		const detail = { position, hash, how };
		const about = { subjectKind: "ledger", subjectId: given.id, atMs: given.givenAtMs };
		await record(tx, this.ids, [{ ...about, actor, action: "head given out", detail }]);
		return given;
	}

	/** @returns every head that was given out, the newest first */
	given(): Promise<GivenHead[]> {
		return this.store.query<GivenHead>(`SELECT ${COLUMNS.join(", ")} FROM ledger_anchor ORDER BY given_at_ms DESC, id DESC`);
	}
}

const COLUMNS = ["id", "position", "hash", "given_at_ms", "how"];

/** @returns a head as it is printed and typed: position and eight groups of eight digits, `12-0f3a9c1e-...` */
export function headText({ position, hash }: Anchor): string {
	return `${position}-${(hash.match(/.{8}/g) ?? []).join("-")}`;
}

/**
 * @param text a head as it was printed; blanks, line breaks, dashes and capitals don't matter, but the position stands apart
 * @throws InputError `invalid-input` that says how a head looks
 */
export function headFrom(text: string): Anchor {
	const [, position, digits] = /^\s*(\d{1,15})[\s:-]+((?:[0-9a-f][\s:-]*){64})$/i.exec(text) ?? [];
	if (position && digits) return { position: Number(position), hash: digits.replace(/[^0-9a-f]/gi, "").toLowerCase() };
	throw new InputError(
		"invalid-input",
		"A head is its position, a dash, and 64 hexadecimal digits in eight groups, such as 12-0f3a9c1e-… as it was printed.",
	);
}
