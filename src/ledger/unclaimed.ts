import type { Findings } from "./findings.js";
import type { LedgerReads } from "./reads.js";

const MOST_NAMED = 1001;

/** Names entries that stand in no link and on no sheet: nobody wrote them through the ledger. */
export async function entriesInNoLink(on: LedgerReads, findings: Findings): Promise<void> {
	const [counted] = await on.query<{ kept: number; sealed: number | null; waiting: number | null }>(
		`SELECT (SELECT count(*) FROM ledger_entry) AS kept, (SELECT sum(entries) FROM ledger_seal) AS sealed,
		        (SELECT sum(entries) FROM ledger_waiting) AS waiting`,
	);
	// One that was removed can hide one that was put in: where anything was found, each is looked for.
	const isWhole = counted && Number(counted.kept) === Number(counted.sealed ?? 0) + Number(counted.waiting ?? 0);
	if (isWhole && !findings.any) return;
	const rows = await on.query<{ id: string }>(
		`SELECT e.id FROM ledger_entry e WHERE ${on.kind === "postgres" ? NOT_CLAIMED_ON_POSTGRES : NOT_CLAIMED_ON_SQLITE}
		 ORDER BY e.id LIMIT ${MOST_NAMED}`,
	);
	for (const { id } of rows)
		findings.add("inserted", `entry ${id} was put in beside the ledger: it stands in no link and on no sheet`, { entryId: id });
}

// A list that was changed may not be JSON any more, and must not end the search. Each database is told in the way in which it reads the
// lists once, and not once an entry.
const NOT_CLAIMED_ON_POSTGRES = `NOT EXISTS (SELECT 1 FROM (${["ledger_seal", "ledger_waiting"]
	.map((table) => `SELECT string_to_table(translate(entry_ids, '[]"', ''), ',') AS id FROM ${table}`)
	.join(" UNION ALL ")}) c WHERE c.id = e.id)`;
const NOT_CLAIMED_ON_SQLITE = `e.id NOT IN (${["ledger_seal", "ledger_waiting"]
	.map((table) => `SELECT j.value FROM ${table}, json_each(CASE WHEN json_valid(entry_ids) THEN entry_ids ELSE '[]' END) j`)
	.join(" UNION ALL ")})`;
