import { type ErrorCode, InputError } from "../errors/errors.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

type From = Pick<Transaction, "query">;

/** A person as far as assigning needs to know her. */
export interface Assigned {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly timeZone: string;
}

/**
 * A volunteer who may be given work.
 * @param at the field that named her
 * @throws InputError `unknown-subject` where there is none of this code; `not-allowed` (422) where she isn't a volunteer, has left or is away
 */
export async function volunteerNamed(from: From, code: string, at: string): Promise<Assigned> {
	const [row] = await from.query<
		Assigned & { role: string; active: boolean | number; reason: string | null; untilOn: string | null }
	>(
		`SELECT p.id, p.code, p.area_id, a.time_zone, p.role, p.active, x.reason, x.until_on FROM person p JOIN area a ON a.id = p.area_id
		 LEFT JOIN absence x ON x.person_id = p.id AND x.returned_at_ms IS NULL WHERE p.code = $1`,
		[code],
	);
	if (!row) throw refusal("unknown-subject", `There is no volunteer with the code ${shown(code)}.`, at, "names no volunteer");
	const { role, active, reason, untilOn, ...person } = row;
	if (role !== "volunteer")
		throw refusal(
			"not-allowed",
			`${code} is a ${role}; households are given to volunteers.`,
			at,
			`must name a volunteer, not a ${role}`,
		);
	if (!active) {
		const away =
			reason && reason !== "left" ? `is away (${reason}${untilOn ? ` until ${untilOn}` : ""})` : "has left the programme";
		throw refusal("not-allowed", `${code} ${away} and can't be given anything.`, at, "must name a volunteer who is at work");
	}
	return person;
}

/**
 * Checks that a supervisor stands over every one of these areas: it is hers, or lies below hers.
 * @throws InputError `unknown-subject`; `not-allowed` (403) that names the first area that isn't hers
 */
export async function assertStandsOver(
	from: From,
	supervisorCode: string,
	areaIds: readonly string[],
	at: string,
): Promise<string> {
	const [by] = await from.query<{ id: string; role: string; areaCode: string }>(
		"SELECT p.id, p.role, a.code AS area_code FROM person p JOIN area a ON a.id = p.area_id WHERE p.code = $1 AND p.active",
		[supervisorCode],
	);
	if (!by) throw refusal("unknown-subject", `Nobody at work has the code ${shown(supervisorCode)}.`, at, "names nobody at work");
	if (by.role === "volunteer")
		throw refusal("not-allowed", `${supervisorCode} is a volunteer, not a supervisor.`, at, "must name a supervisor", 403);
	const distinct = [...new Set(areaIds)];
	for (let page = 0; page < distinct.length; page += 500) {
		const ids = distinct.slice(page, page + 500);
		const [outside] = await from.query<{ code: string }>(
			`WITH RECURSIVE below (id) AS (SELECT area_id FROM person WHERE code = $1 UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id)
			 SELECT code FROM area WHERE id IN (${placeholders(ids.length, 2)}) AND id NOT IN (SELECT id FROM below) ORDER BY code LIMIT 1`,
			[supervisorCode, ...ids],
		);
		if (outside)
			throw refusal(
				"not-allowed",
				`${supervisorCode} stands over area ${by.areaCode} and what lies below it; area ${outside.code} isn't among that.`,
				at,
				`must name a supervisor of area ${outside.code} or of one above it`,
				403,
			);
	}
	return by.id;
}

/** @throws InputError `unknown-area` */
export async function areaNamed(
	from: From,
	code: string,
	at: string,
	status: 404 | 422 = 422,
): Promise<{ id: string; code: string; timeZone: string }> {
	const [area] = await from.query<{ id: string; code: string; timeZone: string }>(
		"SELECT id, code, time_zone FROM area WHERE code = $1",
		[code],
	);
	if (!area) throw refusal("unknown-area", `There is no area with the code ${shown(code)}.`, at, "names no area", status);
	await assertNoCircle(from, area.id, area.code);
	return area;
}

/** An import refuses areas that lie in one another; should the database hold such a circle all the same, nobody knows whose they are. */
async function assertNoCircle(from: From, id: string, code: string): Promise<void> {
	const [round] = await from.query(
		`WITH RECURSIVE up (id, level) AS (SELECT parent_id, 1 FROM area WHERE id = $1
		 UNION ALL SELECT a.parent_id, up.level + 1 FROM area a JOIN up ON a.id = up.id WHERE up.level < 100)
		 SELECT id FROM up WHERE id = $1 OR level >= 100 LIMIT 1`,
		[id],
	);
	if (round)
		throw refusal(
			"conflict",
			`Area ${code} lies in itself by way of the areas above it; import the areas with one of them in none.`,
			"",
			`area ${code} lies in a circle`,
			409,
		);
}

export function refusal(
	code: ErrorCode,
	message: string,
	at: string,
	problem: string,
	status: InputError["status"] = 422,
): InputError {
	return new InputError(code, message, { status, problems: [{ at, message: problem }] });
}

const shown = (code: string): string => JSON.stringify(code.slice(0, 64));
