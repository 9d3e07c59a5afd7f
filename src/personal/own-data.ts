import { snakeCase } from "../store/columns.js";
import type { Store } from "../store/store.js";
import { HELD, type Held } from "./held.js";
import { personWithCode } from "./people.js";

/** Rows of one table that name a person, and by which of its columns. */
export interface HeldRows {
	readonly table: string;
	readonly by: readonly string[];
	readonly rows: readonly Readonly<Record<string, unknown>>[];
}

/** A person's own copy of everything that is held about her. */
export interface OwnCopy {
	readonly code: string;
	readonly held: readonly HeldRows[];
}

const PAGE = 1000;

export class OwnData {
	constructor(private readonly store: Store) {}

	/** @throws InputError `unknown-subject` */
	async of(code: string): Promise<OwnCopy> {
		const { id } = await personWithCode(this.store, code);
		const held: HeldRows[] = [];
		for (const one of HELD) {
			const rows = await this.rows(one, id);
			if (rows.length > 0) held.push({ table: one.table, by: one.by, rows });
		}
		return { code, held };
	}

	private async rows({ table, by, only, without = [] }: Held, id: string): Promise<Record<string, unknown>[]> {
		const told = only?.map((column) => `x.${column}`).join(", ") ?? "x.*";
		const named = by.map((column) => `x.${column} = $1`).join(" OR ");
		const rows: Record<string, unknown>[] = [];
		for (;;) {
			const page = await this.store.query(
				`SELECT ${told} FROM "${table}" x WHERE ${named} ORDER BY ${only?.[0] ?? by[0]}, 1 LIMIT ${PAGE} OFFSET ${rows.length}`,
				[id],
			);
			rows.push(...page);
			if (page.length < PAGE) break;
		}
		return rows.map((row) => Object.fromEntries(Object.entries(row).filter(([name]) => !without.includes(snakeCase(name)))));
	}
}
