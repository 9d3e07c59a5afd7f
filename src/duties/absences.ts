import type { Moving } from "../assignment/moves.js";
import { refusal } from "../assignment/people.js";
import type { AbsenceReason } from "../assignment/rows.js";
import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { dayAfter, instantOfLocal } from "../time/local.js";

/** An absence that isn't over. */
export interface OpenAbsence {
	readonly id: string;
	readonly reason: AbsenceReason;
	/** 'YYYY-MM-DD' in her area's zone. */
	readonly fromOn: string;
	/** The last day; none: not known, or for good. */
	readonly untilOn: string | null;
	/** Who gets everything; none: it is proposed among those who are left. */
	readonly toId: string | null;
	/** None: it is still to come. */
	readonly beganAtMs: number | null;
}

/** A volunteer, with the absence of hers that isn't over. */
export interface Volunteer {
	readonly id: string;
	readonly code: string;
	readonly name: string;
	readonly areaId: string;
	readonly timeZone: string;
	readonly supervisorAreaId: string | null;
	readonly absence: OpenAbsence | null;
}

/** @throws InputError `unknown-subject` (404); `not-allowed` where the person is no volunteer */
export async function volunteerWithAbsence(from: Pick<Transaction, "query">, personCode: string): Promise<Volunteer> {
	const [row] = await from.query<Row & { role: string }>(`${SELECT} WHERE p.code = $1`, [personCode]);
	if (!row) throw new InputError("unknown-subject", "There is no volunteer with this code.", { status: 404 });
	if (row.role !== "volunteer")
		throw refusal(
			"not-allowed",
			`${personCode} is a ${row.role}; work is handed over for volunteers.`,
			"code",
			"must name a volunteer",
		);
	return volunteerOf(row);
}

/** @returns whoever's absence is to begin or to end by now, the longest due first */
export async function dueAbsences(from: Pick<Transaction, "query">, nowMs: number, most: number): Promise<Volunteer[]> {
	const rows = await from.query<Row>(`${SELECT} WHERE x.next_at_ms <= $1 ORDER BY x.next_at_ms, x.id LIMIT ${most}`, [nowMs]);
	return rows.map(volunteerOf);
}

interface Row extends Omit<Volunteer, "absence"> {
	readonly absenceId: string | null;
	readonly reason: AbsenceReason;
	readonly fromOn: string;
	readonly untilOn: string | null;
	readonly toId: string | null;
	readonly beganAtMs: number | null;
}

const SELECT = `SELECT p.id, p.code, p.name, p.role, p.area_id, a.time_zone, s.area_id AS supervisor_area_id,
	x.id AS absence_id, x.reason, x.from_on, x.until_on, x.to_id, x.began_at_ms
	FROM person p JOIN area a ON a.id = p.area_id LEFT JOIN person s ON s.id = p.supervisor_id
	LEFT JOIN absence x ON x.person_id = p.id AND x.returned_at_ms IS NULL`;

function volunteerOf({ absenceId, reason, fromOn, untilOn, toId, beganAtMs, ...row }: Row): Volunteer {
	const { id, code, name, areaId, timeZone, supervisorAreaId } = row;
	const absence = absenceId === null ? null : { id: absenceId, reason, fromOn, untilOn, toId, beganAtMs };
	return { id, code, name, areaId, timeZone, supervisorAreaId, absence };
}

/** @returns the first instant of the first day, in her area's zone */
export function beginMs({ fromOn }: Pick<OpenAbsence, "fromOn">, timeZone: string): number {
	return instantOfLocal(fromOn, "00:00", timeZone);
}

/** @returns the first instant after the last day; none: she comes back when somebody says so, or never */
export function endMs({ reason, untilOn }: Pick<OpenAbsence, "reason" | "untilOn">, timeZone: string): number | null {
	return reason === "left" || untilOn === null ? null : instantOfLocal(dayAfter(untilOn), "00:00", timeZone);
}

/**
 * She isn't given anything from now on, and is asked for nothing.
 * @returns false where it began, ended or was put off meanwhile
 */
export async function begun(tx: Transaction, { id, timeZone }: Volunteer, absence: OpenAbsence, nowMs: number): Promise<boolean> {
	const changed = await tx.affected(
		"UPDATE absence SET began_at_ms = $2, next_at_ms = $3 WHERE id = $1 AND began_at_ms IS NULL AND returned_at_ms IS NULL AND from_on = $4",
		[absence.id, nowMs, endMs(absence, timeZone), absence.fromOn],
	);
	if (changed > 0) await tx.affected("UPDATE person SET active = $2 WHERE id = $1", [id, false]);
	return changed > 0;
}

/** She is at work again, and what was proposed because of it is turned down. @returns false where it ended meanwhile */
export async function ended(tx: Transaction, { id }: Volunteer, absence: OpenAbsence, nowMs: number): Promise<boolean> {
	const changed = await tx.affected(
		"UPDATE absence SET returned_at_ms = $2, next_at_ms = NULL WHERE id = $1 AND returned_at_ms IS NULL AND until_on IS NOT DISTINCT FROM $3",
		[absence.id, nowMs, absence.untilOn],
	);
	if (changed === 0) return false;
	await tx.affected("UPDATE person SET active = $2 WHERE id = $1", [id, true]);
	await tx.affected(
		`UPDATE assignment_proposal SET state = CASE state WHEN 'open' THEN 'rejected' ELSE 'stopped' END, version = version + 1, closed_at_ms = $2
		 WHERE absence_id = $1 AND state IN ('open', 'solving')`,
		[absence.id, nowMs],
	);
	return true;
}

/** What the ledger says of an absence that begins. */
export const beganWords = (reason: AbsenceReason): string => (reason === "left" ? "left" : "is away");

/** Puts into the ledger what becomes of an absence. */
export function noteOf(
	tx: Transaction,
	ids: Ids,
	{ id, code, areaId }: Volunteer,
	{ actor, nowMs }: Pick<Moving, "actor" | "nowMs">,
	action: string,
	detail: Record<string, unknown>,
): Promise<void> {
	return record(tx, ids, [
		{ atMs: nowMs, actor, action, subjectKind: "person", subjectId: id, areaId, detail: { code, ...detail } },
	]);
}
