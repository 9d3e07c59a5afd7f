import type { LedgerEntry } from "../../ledger/ledger.js";
import { among } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Fields, ImportKind } from "./kind.js";

/** What a row of a file changed of a record that was there. */
export interface Change {
	readonly id: string;
	readonly line: number;
	/** Every field that changed, by its name in the database; of one about a person it is only told that it changed. */
	readonly fields: readonly string[];
	readonly before: Fields;
	readonly after: Fields;
	readonly areaId: string | null;
}

/** What a statement wrote of some hundreds of rows. */
export interface Written {
	readonly ids: readonly string[];
	/** Keys of the rows that were new, as the file has them. */
	readonly added: readonly string[];
	readonly changes: readonly Change[];
}

/** Which file, and who took it in. */
export interface FileTold {
	readonly fileId: string;
	readonly kind: ImportKind;
	readonly actor: string;
	readonly nowMs: number;
}

/** @returns the entries that tell of a page of rows: one a changed record, and one for all that were new */
export async function entriesOf(tx: Transaction, file: FileTold, { added, changes }: Written): Promise<LedgerEntry[]> {
	const { fileId, kind, actor, nowMs } = file;
	const areaOf = await areasOfHouseholds(tx, kind, changes);
	const entries: LedgerEntry[] = changes.map(({ id, line, fields, before, after, areaId }) => ({
		...{ atMs: nowMs, actor, action: "changed by import", subjectKind: kind.subject ?? kind.noun, subjectId: id },
		areaId: areaId ?? areaOf.get(id) ?? null,
		detail: { importId: fileId, line, fields, before, after },
	}));
	if (added.length > 0)
		entries.push({
			...{ atMs: nowMs, actor, action: "added by import", subjectKind: "import", subjectId: fileId },
			detail: { kind: kind.name, codes: added },
		});
	return entries;
}

/** An area's supervisor sees what was changed of its households, and of what stands in them. */
async function areasOfHouseholds(
	tx: Transaction,
	kind: ImportKind,
	changes: readonly Change[],
): Promise<ReadonlyMap<string, string>> {
	const ids = changes.filter(({ areaId }) => areaId === null).map(({ id }) => id);
	const isInHousehold = kind.key?.field === "household_id" || kind.table === "container";
	if (ids.length === 0 || !isInHousehold) return new Map();
	const at = kind.key?.field ?? "id";
	const rows = await tx.query<{ id: string; areaId: string }>(
		`SELECT x.${at} AS id, h.area_id FROM ${kind.table} x JOIN household h ON h.id = x.household_id WHERE x.${at} ${among(tx.kind, "$1")}`,
		[ids],
	);
	return new Map(rows.map(({ id, areaId }) => [id, areaId]));
}
