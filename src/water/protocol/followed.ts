import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { placeholders, valuesOf } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Ids } from "../../time/ids.js";
import { defaultIn, named, type ProtocolVersion, versionsIn } from "./accept.js";

/** Households that are looked up, and written, by one statement. */
const PAGE = 500;

type Followed = ReadonlyMap<string, ProtocolVersion>;

/**
 * The version that each household follows; the default for one that has none yet, which is only told and not kept.
 * @returns by household; a household that isn't there has one too
 * @throws InputError `unknown-subject` (404) where one is needed and no default has been set
 */
export async function protocolsNow(from: Pick<Transaction, "query">, householdIds: readonly string[]): Promise<Followed> {
	const { kept, without } = await keptBy(from, householdIds);
	if (without.length === 0) return kept;
	const first = await firstIn(from);
	return new Map([...kept, ...without.map((id) => [id, first] as const)]);
}

/**
 * The same; one that has none yet begins with the default and keeps it from now on.
 * @throws InputError `unknown-subject` (404) for a household that isn't there, or where no default has been set
 */
export async function protocolsKept(
	tx: Transaction,
	ids: Ids,
	householdIds: readonly string[],
	nowMs: number,
): Promise<Followed> {
	const { kept, without } = await keptBy(tx, householdIds);
	if (without.length === 0) return kept;
	const first = await firstIn(tx);
	for (let from = 0; from < without.length; from += PAGE) await begin(tx, ids, without.slice(from, from + PAGE), first, nowMs);
	// Two may ask at once for the first time: one gives it the default, and both are told what it has then.
	return (await keptBy(tx, householdIds)).kept;
}

async function begin(tx: Transaction, ids: Ids, householdIds: readonly string[], first: ProtocolVersion, atMs: number) {
	const rows = await tx.query<{ id: string; areaId: string }>(
		`SELECT id, area_id FROM household WHERE id IN (${placeholders(householdIds.length)})`,
		householdIds,
	);
	const absent = householdIds.filter((id) => !rows.some((row) => row.id === id));
	if (absent.length > 0)
		throw new InputError("unknown-subject", `There is no household ${absent.slice(0, 5).join(", ")}.`, { status: 404 });
	const { text, parameters } = valuesOf(rows.map(({ id }) => [id, first.id, atMs]));
	const begun = await tx.query<{ householdId: string }>(
		`INSERT INTO household_protocol (household_id, protocol_version_id, since_ms) VALUES ${text}
		 ON CONFLICT (household_id) DO NOTHING RETURNING household_id`,
		parameters,
	);
	const areas = new Map(rows.map(({ id, areaId }) => [id, areaId]));
	await record(
		tx,
		ids,
		begun.map(({ householdId }) => ({
			atMs,
			actor: "programme",
			action: "household given protocol",
			subjectKind: "household",
			subjectId: householdId,
			areaId: areas.get(householdId) ?? null,
			detail: { from: null, to: named(first), why: "begins with the default" },
		})),
	);
}

async function keptBy(from: Pick<Transaction, "query">, householdIds: readonly string[]) {
	const kept = new Map<string, ProtocolVersion>();
	const once = [...new Set(householdIds)];
	for (let at = 0; at < once.length; at += PAGE) {
		const page = once.slice(at, at + PAGE);
		const rows = await from.query<{ householdId: string; versionId: string }>(
			`SELECT household_id, protocol_version_id AS version_id FROM household_protocol WHERE household_id IN (${placeholders(page.length)})`,
			page,
		);
		const versions = await versionsIn(
			from,
			rows.map(({ versionId }) => versionId),
		);
		for (const { householdId, versionId } of rows) kept.set(householdId, versions.get(versionId) as ProtocolVersion);
	}
	return { kept, without: once.filter((id) => !kept.has(id)) };
}

async function firstIn(from: Pick<Transaction, "query">): Promise<ProtocolVersion> {
	const first = await defaultIn(from);
	if (first) return first;
	throw new InputError("unknown-subject", "No default protocol has been set. Accept one and make it the default.", {
		status: 404,
	});
}
