import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { setDue } from "../programme/due.js";
import type { GeneratorRules } from "../programme/generator-rules.js";
import type { Policy } from "../programme/policy.js";
import { kitNamed } from "../stock/kits.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { instantOfLocal } from "../time/local.js";
import { RENEW_REAGENT } from "./due-kinds.js";
import { KitLotRow } from "./kit-rows.js";

interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

/** When a lot isn't trusted any more, and when another is asked for. */
export interface LotLife {
	/** First local day on which it isn't used, 'YYYY-MM-DD'. */
	readonly useUntilOn: string;
	readonly reason: "expiry" | "opened";
	readonly renewAtMs: number;
}

/** @returns the life of a lot by whichever comes first: its expiry, or so many days after it was opened */
export function lotLife(
	lot: Pick<KitLotRow, "expiresOn" | "openedOn">,
	timeZone: string,
	rules: GeneratorRules["reagents"],
): LotLife {
	const expiresMs = instantOfLocal(lot.expiresOn, "00:00", timeZone);
	const openedMs =
		lot.openedOn === null
			? Number.POSITIVE_INFINITY
			: instantOfLocal(lot.openedOn, "00:00", timeZone) + rules.openedDays * DAY_MS;
	const byOpening = openedMs < expiresMs;
	return {
		useUntilOn: byOpening
			? new Date(Date.parse(lot.openedOn as string) + Math.round(rules.openedDays) * DAY_MS).toISOString().slice(0, 10)
			: lot.expiresOn,
		reason: byOpening ? "opened" : "expiry",
		renewAtMs: Math.round(Math.min(expiresMs, openedMs) - rules.renewDaysBefore * DAY_MS),
	};
}

/**
 * Puts a lot of reagent on file.
 * @throws InputError `conflict` for a code that is taken, `unknown-kit`, `invalid-input` where it was opened or expired before it was
 * received
 */
export async function registerLot(
	tx: Transaction,
	ids: Ids,
	lot: Omit<KitLotRow, "id" | "state">,
	moment: Moment,
	actor: string,
): Promise<KitLotRow> {
	kitNamed(lot.kit);
	const [taken] = await tx.query("SELECT id FROM kit_lot WHERE code = $1", [lot.code]);
	if (taken) throw new InputError("conflict", `A lot ${lot.code} is on file already.`, { status: 409 });
	refuseWrongDates(lot);
	const row: KitLotRow = { ...lot, id: ids.next(), state: "in use" };
	await tx.manager.insert(KitLotRow, row);
	await refreshLots(tx, [row.id], moment);
	await record(tx, ids, [
		{
			atMs: moment.nowMs,
			actor,
			action: "reagent received",
			subjectKind: "kit lot",
			subjectId: row.id,
			areaId: row.areaId,
			detail: { code: row.code, kit: row.kit, lot: row.lot, expiresOn: row.expiresOn },
		},
	]);
	return row;
}

/** Keeps when a lot was opened. @throws InputError `unknown-subject`, `invalid-input` before it was received, `conflict` where it is gone */
export async function openLot(
	tx: Transaction,
	ids: Ids,
	lotId: string,
	openedOn: string,
	moment: Moment,
	actor: string,
): Promise<KitLotRow> {
	const lot = await tx.manager.findOneBy(KitLotRow, { id: lotId });
	if (!lot) throw new InputError("unknown-subject", "There is no such lot.", { status: 404 });
	if (lot.state !== "in use") throw new InputError("conflict", `Lot ${lot.code} is ${lot.state}.`, { status: 409 });
	const opened = { ...lot, openedOn };
	refuseWrongDates(opened);
	await tx.manager.update(KitLotRow, { id: lotId }, { openedOn });
	await refreshLots(tx, [lotId], moment);
	await record(tx, ids, [
		{
			atMs: moment.nowMs,
			actor,
			action: "reagent opened",
			subjectKind: "kit lot",
			subjectId: lotId,
			areaId: lot.areaId,
			detail: { code: lot.code, openedOn },
		},
	]);
	return opened;
}

/** Reckons anew when lots are to be renewed. */
export async function refreshLots(tx: Transaction, ids: readonly string[], { policy }: Pick<Moment, "policy">): Promise<void> {
	for (let from = 0; from < ids.length; from += 500) {
		const page = ids.slice(from, from + 500);
		const lots = await tx.query<KitLotRow & { timeZone: string }>(
			`SELECT l.*, a.time_zone FROM kit_lot l JOIN area a ON a.id = l.area_id WHERE l.id IN (${placeholders(page.length)})`,
			page,
		);
		await setDue(
			tx,
			lots.map((lot) => ({
				kind: RENEW_REAGENT,
				subjectId: lot.id,
				areaId: lot.areaId,
				dueAtMs: lot.state === "in use" ? lotLife(lot, lot.timeZone, policy.generators.reagents).renewAtMs : null,
			})),
		);
	}
}

/** @returns what is wrong with a lot's dates, by field; none where they go together */
export function lotDateProblems(
	lot: Pick<KitLotRow, "receivedOn" | "expiresOn" | "openedOn">,
): { at: "openedOn" | "expiresOn"; message: string }[] {
	const problems: { at: "openedOn" | "expiresOn"; message: string }[] = [];
	if (lot.openedOn !== null && lot.openedOn < lot.receivedOn)
		problems.push({ at: "openedOn", message: `must not be before ${lot.receivedOn}, when it was received` });
	if (lot.expiresOn <= lot.receivedOn)
		problems.push({ at: "expiresOn", message: `must be after ${lot.receivedOn}: a lot that has expired isn't taken into use` });
	return problems;
}

function refuseWrongDates(lot: Pick<KitLotRow, "receivedOn" | "expiresOn" | "openedOn">): void {
	const problems = lotDateProblems(lot);
	if (problems.length === 0) return;
	throw new InputError(
		"invalid-input",
		`The lot's dates don't go together: ${problems.map(({ at, message }) => `${at} ${message}`).join("; ")}.`,
		{
			problems: problems.map(({ at, message }) => ({ at: `/${at}`, message })),
		},
	);
}
