import type { LedgerEntry } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import type { AccountRow } from "./rows.js";

/** What accounts are called: what people type on any keyboard. */
export const LOGIN = /^[a-z0-9][a-z0-9._-]{1,39}$/;

type Reads = Pick<Store, "query">;
type Raw = Omit<AccountRow, "administrator" | "active"> & { administrator: boolean | number; active: boolean | number };

/** @returns the account of a login, however its letters were typed; none where there is none */
export function accountCalled(from: Reads, login: string): Promise<AccountRow | undefined> {
	return accountWhere(from, "login", login.trim().toLowerCase());
}

export function accountOf(from: Reads, id: string): Promise<AccountRow | undefined> {
	return accountWhere(from, "id", id);
}

async function accountWhere(from: Reads, column: "login" | "id", value: string): Promise<AccountRow | undefined> {
	const [row] = await from.query<Raw>(`SELECT * FROM account WHERE ${column} = $1`, [value]);
	return row && { ...row, administrator: Boolean(row.administrator), active: Boolean(row.active) };
}

/** @returns how the ledger names whoever holds it */
export function actorOfAccount({ id, personId }: Pick<AccountRow, "id" | "personId">): string {
	return personId ?? `account ${id}`;
}

/** @returns what the ledger keeps of a change to who may sign in; never a secret */
export function changeOf(
	{ id, login }: Pick<AccountRow, "id" | "login">,
	action: string,
	atMs: number,
	actor: string,
	detail: Record<string, unknown> = {},
): LedgerEntry {
	return { atMs, actor, action, subjectKind: "account", subjectId: id, detail: { login, ...detail } };
}
