/** One part of a long text. */
export interface Part {
	readonly from: string;
	readonly reference: number;
	readonly total: number;
	/** From 1. */
	readonly number: number;
	readonly text: string;
}

interface Pile {
	readonly from: string;
	readonly texts: (string | undefined)[];
	readonly sinceMs: number;
}

/** What isn't whole after this is handed on as it is: a text with a gap is better than none. */
const LONGEST_WAIT_MS = 600_000;
const MOST_PILES = 1000;

/** Puts long texts together from their parts, in memory: centres want an answer to each part before they send the next. */
export class Assembly {
	private readonly piles = new Map<string, Pile>();

	/** @returns the texts that are whole by this part, and those that have waited too long for the rest */
	add({ from, reference, total, number, text }: Part, nowMs: number): { readonly from: string; readonly text: string }[] {
		const finished = this.late(nowMs);
		const key = `${from} ${reference} ${total}`;
		const pile = this.piles.get(key) ?? { from, texts: Array.from({ length: total }, () => undefined), sinceMs: nowMs };
		if (number < 1 || number > total) return [...finished, { from, text }];
		pile.texts[number - 1] = text;
		if (pile.texts.includes(undefined)) {
			this.piles.set(key, pile);
			return finished;
		}
		this.piles.delete(key);
		return [...finished, { from, text: pile.texts.join("") }];
	}

	private late(nowMs: number): { readonly from: string; readonly text: string }[] {
		const late: { from: string; text: string }[] = [];
		for (const [key, { from, texts, sinceMs }] of this.piles)
			if (nowMs - sinceMs > LONGEST_WAIT_MS || this.piles.size > MOST_PILES) {
				this.piles.delete(key);
				late.push({ from, text: texts.join("") });
			}
		return late;
	}
}

/**
 * Which part of which text a user data header tells of.
 * @param elements each with its identifier, its length, and its content
 * @returns none where it tells of no parts
 * Source: 3GPP TS 23.040, sections 9.2.3.24.1 (identifier 00, reference of 8 bits) and 9.2.3.24.8 (08, of 16 bits)
 */
export function partNumberIn(elements: readonly Uint8Array[]): { reference: number; total: number; number: number } | undefined {
	for (const e of elements) {
		if (e[0] === 0x00 && e[1] === 3 && e.length >= 5) return { reference: e[2]!, total: e[3]!, number: e[4]! };
		if (e[0] === 0x08 && e[1] === 4 && e.length >= 6) return { reference: e[2]! * 256 + e[3]!, total: e[4]!, number: e[5]! };
	}
	return undefined;
}
