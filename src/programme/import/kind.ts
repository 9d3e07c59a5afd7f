import type { Policy } from "../policy.js";
import type { Column, Columns, ValuesOf } from "./column.js";
import type { Found } from "./references.js";

/** What is written of a row, by database column; a list or object is kept as JSON. */
export type Fields = Readonly<Record<string, unknown>>;

/** What a row may be checked against, beside its own cells. */
export interface RowSetting {
	readonly nowMs: number;
	readonly policy: Policy;
	/** @returns the row that the cell of a column names; none where the cell is empty */
	found(column: string): Found | undefined;
	/** @returns its id */
	idOf(column: string): string | null;
	/** Says what would be right where cells don't go together; the row is then refused. */
	refuse(column: string, message: string): void;
}

/** Rows that name another row of their own table, which may stand further down in the same file. */
export interface Tree {
	/** The column of the file. */
	readonly column: string;
	/** The database column that holds the other row's id. */
	readonly field: string;
	/** Which of the other row's database columns says whether it may be named here, and what its value must be. */
	readonly asks?: { readonly column: string; readonly allowed: readonly string[] };
}

/** One kind of file: its columns, and what is written of a row. */
export interface ImportKind {
	/** As it is asked for: "households". */
	readonly name: string;
	/** One row, in the trade's word. */
	readonly noun: string;
	readonly table: string;
	/** What the ledger calls the record that a row tells of; `noun` where nothing is said. */
	readonly subject?: string;
	/** The first is the key. */
	readonly columns: Columns;
	/** The column of the file by which a row is the same at the next import, and its database column; `code` where nothing is said. */
	readonly key?: { readonly column: string; readonly field: string };
	readonly tree?: Tree;
	/** Written of a new row only. */
	readonly whenAdded?: Fields;
	/** What is set beside the fields where a row is changed, in SQL: `forecast = NULL`. */
	readonly whenChanged?: string;
	fieldsOf(values: Readonly<Record<string, unknown>>, setting: RowSetting): Fields;
}

type WithKey = Columns & ({ readonly code: Column<string> } | { readonly household_code: Column<string> });

/** The same kind, with the values of its columns typed where it is defined. */
export function importKind<const C extends WithKey>(
	kind: Omit<ImportKind, "columns" | "fieldsOf"> & {
		readonly columns: C;
		fieldsOf(values: ValuesOf<C>, setting: RowSetting): Fields;
	},
): ImportKind & { readonly columns: C } {
	return kind as unknown as ImportKind & { readonly columns: C };
}
