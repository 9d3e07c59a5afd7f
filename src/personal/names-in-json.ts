import { PERSONAL_FILLINGS } from "../messages/text-names.js";
import { isSealedInSql } from "../store/sealing/envelope.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";

/** Where names rest inside JSON. */
export const WITH_NAMES = [
	{ table: "message", column: "fill" },
	{ table: "task", column: "brief" },
] as const;

const PAGE = 500;

interface Holding {
	readonly id: string;
	readonly json: string;
}

/**
 * Puts other words for names into rows that hold some, a page at a time, each page kept by itself.
 * @param which a further condition on the rows, in SQL with parameters from `$2` on
 * @param wordFor what stands for a name from then on; the name itself where it stays
 * @returns how many rows were changed
 */
export async function renamed(
	store: Store,
	{ table, column }: (typeof WITH_NAMES)[number],
	which: { readonly text: string; readonly parameters: readonly unknown[] },
	wordFor: (name: string) => string,
): Promise<number> {
	for (let changed = 0, after = ""; ; ) {
		const page = await store.query<Holding & object>(
			`SELECT x.id, x.${column} AS json FROM ${table} x WHERE x.id > $1 AND ${isSealedInSql(`x.${column}`)} AND ${which.text} ORDER BY x.id LIMIT ${PAGE}`,
			[after, ...which.parameters],
		);
		const lists = page.flatMap(({ id, json }) => {
			const other = withWords(json, wordFor);
			return other === json ? [] : [[id, other]];
		});
		if (lists.length > 0)
			changed += await store.work.run(async (tx: Transaction) => {
				const at = await tx.each(`UPDATE ${table} SET ${column} = $2 WHERE id = $1`, lists);
				return at.length;
			});
		if (page.length < PAGE) return changed;
		after = page.at(-1)?.id ?? "";
	}
}

/** @returns the same text where nothing is replaced */
function withWords(json: string, wordFor: (name: string) => string): string {
	const object = JSON.parse(json) as Record<string, unknown>;
	let isChanged = false;
	for (const member of PERSONAL_FILLINGS) {
		const name = object[member];
		if (typeof name !== "string" || wordFor(name) === name) continue;
		object[member] = wordFor(name);
		isChanged = true;
	}
	return isChanged ? JSON.stringify(object) : json;
}
