import type { LedgerEntry } from "../ledger/ledger.js";

/**
 * Jars that the models don't take, for the ledger: nothing is due for them until their facts are put right, and that is where
 * somebody can see it.
 */
export function unfitEntries(
	jars: readonly { readonly id: string; readonly areaId: string }[],
	unfit: ReadonlyMap<string, string>,
	atMs: number,
): LedgerEntry[] {
	const entry = { atMs, actor: "sweep", action: "jar can't be forecast", subjectKind: "batch" };
	return jars.flatMap(({ id, areaId }) => {
		const why = unfit.get(id);
		return why === undefined ? [] : [{ ...entry, subjectId: id, areaId, detail: { why } }];
	});
}
