import { among } from "../../../store/sql.js";
import { firstIdAt } from "../../../time/ids.js";
import {
	type Cause,
	type Evidence,
	type Fact,
	IncidentKind,
	type OpenIncident,
	type Reader,
	type Window,
} from "../incident-kind.js";

/** Water that was dosed so long before it was read may have been drunk; a reading before that is a step of making it. Own choice. */
const MAY_BE_DRUNK_H = 2;

interface Read {
	readonly id: string;
	readonly doseId: string | null;
	readonly containerId: string;
	readonly areaId: string;
	readonly container: string;
	readonly household: string;
	readonly persons: number;
	readonly checkedAtMs: number;
	readonly dosedAtMs: number | null;
	readonly mgPerL: number;
	readonly jar: string | null;
}

/** Water that people could drink was read and found not fit to drink. */
export class UnfitWater extends IncidentKind {
	readonly name = "unfit water given out";
	readonly words = "Water that people could drink was read and found not fit to drink.";
	readonly subjectKind = "container";
	readonly text = "incident.unfitWater";

	async causes(from: Reader, { sinceMs }: Window): Promise<Cause[]> {
		const rows = await from.query<Read>(
			`SELECT r.id, r.dose_id, r.container_id, h.area_id, c.code AS container, h.code AS household, h.persons, r.checked_at_ms, d.dosed_at_ms, r.free_chlorine_mg_per_l AS mg_per_l, b.code AS jar
			 FROM residual_check r JOIN container c ON c.id = r.container_id JOIN household h ON h.id = c.household_id
			 LEFT JOIN dose d ON d.id = r.dose_id LEFT JOIN batch b ON b.id = d.batch_id
			 WHERE r.id >= $1 AND NOT r.fit_to_drink AND (r.hours_since_dose IS NULL OR r.hours_since_dose >= $2) ORDER BY r.checked_at_ms, r.id`,
			[firstIdAt(sinceMs), MAY_BE_DRUNK_H],
		);
		return rows.map((row) => ({
			causeId: row.doseId ?? row.id,
			subjectId: row.containerId,
			areaId: row.areaId,
			happenedAtMs: row.dosedAtMs ?? row.checkedAtMs,
			found: {
				about: row.container,
				household: row.household,
				persons: row.persons,
				freeChlorineMgPerL: row.mgPerL,
				jar: row.jar,
				foundAtMs: row.checkedAtMs,
			},
		}));
	}

	async settled(from: Reader, open: readonly OpenIncident[]): Promise<Evidence[]> {
		const rows = await from.query<{ id: string; fitAtMs: number | null }>(
			`SELECT i.id, (SELECT max(r.checked_at_ms) FROM residual_check r WHERE r.container_id = i.subject_id AND r.fit_to_drink AND r.checked_at_ms > i.happened_at_ms
			   AND NOT EXISTS (SELECT 1 FROM residual_check w WHERE w.container_id = r.container_id AND NOT w.fit_to_drink AND w.checked_at_ms >= r.checked_at_ms)) AS fit_at_ms
			 FROM incident i WHERE i.id ${among(from.kind, "$1")}`,
			[open.map(({ id }) => id)],
		);
		return rows.filter(({ fitAtMs }) => fitAtMs !== null).map(({ id }) => ({ id, because: "a later reading was fit to drink" }));
	}

	async story(from: Reader, incident: OpenIncident) {
		return { facts: await waterFacts(from, [incident.subjectId], incident.happenedAtMs), taskSubjectIds: [incident.subjectId] };
	}
}

/** @returns doses, what ended them, and readings of containers since an instant: who could drink what, and when */
export async function waterFacts(from: Reader, containerIds: readonly string[], sinceMs: number): Promise<Fact[]> {
	const of = among(from.kind, "$1");
	const doses = await from.query<{
		id: string;
		container: string;
		household: string;
		persons: number;
		jar: string;
		dosedAtMs: number;
		endedAtMs: number | null;
		endedBecause: string | null;
		waterL: number;
		bleachMl: number;
	}>(
		`SELECT d.id, c.code AS container, h.code AS household, h.persons, b.code AS jar, d.dosed_at_ms, d.ended_at_ms, d.ended_because, d.water_l, d.bleach_ml
		 FROM dose d JOIN container c ON c.id = d.container_id JOIN household h ON h.id = c.household_id JOIN batch b ON b.id = d.batch_id
		 WHERE d.container_id ${of} AND d.dosed_at_ms >= $2 ORDER BY d.dosed_at_ms, d.id`,
		[containerIds, sinceMs],
	);
	const readings = await from.query<{
		id: string;
		container: string;
		checkedAtMs: number;
		mgPerL: number;
		fit: boolean | number | null;
	}>(
		`SELECT r.id, c.code AS container, r.checked_at_ms, r.free_chlorine_mg_per_l AS mg_per_l, r.fit_to_drink AS fit
		 FROM residual_check r JOIN container c ON c.id = r.container_id WHERE r.container_id ${of} AND r.checked_at_ms >= $2 ORDER BY r.checked_at_ms, r.id`,
		[containerIds, sinceMs],
	);
	return [
		...doses.map(({ id, dosedAtMs, ...dose }) => ({
			id,
			atMs: dosedAtMs,
			what: "water dosed",
			detail: {
				container: dose.container,
				household: dose.household,
				persons: dose.persons,
				jar: dose.jar,
				waterL: dose.waterL,
				bleachMl: dose.bleachMl,
			},
		})),
		...doses.flatMap(({ id, container, endedAtMs, endedBecause }) =>
			endedAtMs === null
				? []
				: [{ id, atMs: endedAtMs, what: "water no longer drunk", detail: { container, because: endedBecause } }],
		),
		...readings.map(({ id, container, checkedAtMs, mgPerL, fit }) => ({
			id,
			atMs: checkedAtMs,
			what: fit === null ? "water read" : fit ? "water read, fit to drink" : "water read, not fit to drink",
			detail: { container, freeChlorineMgPerL: mgPerL },
		})),
	];
}
