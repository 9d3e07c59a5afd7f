import type { Policy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { localDateOf } from "../time/local.js";
import type { AssignmentProblem, AssignmentTerms, Candidate, PlacedHousehold } from "./problem.js";
import { litresPerPersonDay } from "./stated-room.js";

type From = Pick<Transaction, "query">;

/** What a proposal is about: the households of an area, or those of a volunteer who is away; among the volunteers of an area. */
export interface Scope {
	readonly areaId: string;
	/** Only her households; she isn't among those who may have them. */
	readonly awayId: string | null;
}

/** @returns the problem as the database has it now; what the volunteers have outside of it is taken off what they can take on */
export async function problemOf(
	from: From,
	{ areaId, awayId }: Scope,
	policy: Policy,
	nowMs: number,
): Promise<AssignmentProblem> {
	const litres = litresPerPersonDay(policy);
	const terms = termsOf(policy);
	const households = await from.query<HouseholdFacts>(
		`SELECT h.id, h.persons, h.volunteer_id, COALESCE(h.latitude_deg, a.latitude_deg) AS latitude_deg,
		        COALESCE(h.longitude_deg, a.longitude_deg) AS longitude_deg, c.language, c.stays_with_id
		 FROM household h JOIN area a ON a.id = h.area_id LEFT JOIN household_care c ON c.household_id = h.id
		 WHERE ${awayId === null ? `h.area_id IN ${BELOW}` : "h.volunteer_id = $1"} ORDER BY h.code`,
		[awayId ?? areaId],
	);
	const volunteers = (await volunteersOf(from, areaId)).filter(({ id }) => id !== awayId);
	const atWork = volunteers.filter(({ fromOn, untilOn, timeZone }) => {
		if (fromOn === null) return true;
		const today = localDateOf(nowMs, timeZone);
		// Whoever is about to go away isn't given anything new; whose planned absence is over is back.
		return untilOn !== null && untilOn < today;
	});
	const within = new Set(households.map(({ id }) => id));
	const elsewhere = await loadsElsewhere(
		from,
		atWork.map(({ id }) => id),
		within,
	);
	return {
		households: households.map((household) => placed(household, litres, awayId)),
		candidates: atWork.map((volunteer) => candidateOf(volunteer, elsewhere.get(volunteer.id), { policy, terms, litres })),
		terms,
	};
}

const BELOW =
	"(WITH RECURSIVE below(id) AS (SELECT id FROM area WHERE id = $1 UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id) SELECT id FROM below)";

interface HouseholdFacts {
	readonly id: string;
	readonly persons: number;
	readonly volunteerId: string | null;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
	readonly language: string | null;
	readonly staysWithId: string | null;
}

function placed(household: HouseholdFacts, litres: number, awayId: string | null): PlacedHousehold {
	const { id, latitudeDeg, longitudeDeg, language, persons, volunteerId, staysWithId } = household;
	return {
		id,
		latitudeDeg,
		longitudeDeg,
		language,
		litresPerDay: persons * litres,
		todayId: volunteerId === awayId ? null : volunteerId,
		staysWithId: staysWithId === awayId ? null : staysWithId,
	};
}

interface VolunteerFacts {
	readonly id: string;
	readonly language: string;
	readonly workingDays: string;
	readonly timeZone: string;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
	readonly mostHouseholds: number | null;
	readonly mostLitresPerDay: number | null;
	readonly mostHoursPerWeek: number | null;
	readonly fromOn: string | null;
	readonly untilOn: string | null;
}

function volunteersOf(from: From, areaId: string): Promise<VolunteerFacts[]> {
	return from.query<VolunteerFacts>(
		`SELECT p.id, p.language, p.working_days, a.time_zone, COALESCE(c.latitude_deg, a.latitude_deg) AS latitude_deg,
		        COALESCE(c.longitude_deg, a.longitude_deg) AS longitude_deg, c.most_households, c.most_litres_per_day, c.most_hours_per_week,
		        x.from_on, x.until_on
		 FROM person p JOIN area a ON a.id = p.area_id LEFT JOIN volunteer_capacity c ON c.person_id = p.id
		 LEFT JOIN absence x ON x.person_id = p.id AND x.returned_at_ms IS NULL
		 WHERE p.role = 'volunteer' AND p.active AND p.area_id IN ${BELOW} ORDER BY p.code`,
		[areaId],
	);
}

interface Elsewhere {
	readonly households: number;
	readonly persons: number;
}

async function loadsElsewhere(from: From, ids: readonly string[], within: ReadonlySet<string>): Promise<Map<string, Elsewhere>> {
	const loads = new Map<string, Elsewhere>();
	for (let page = 0; page < ids.length; page += 500) {
		const some = ids.slice(page, page + 500);
		const rows = await from.query<{ id: string; volunteerId: string; persons: number }>(
			`SELECT id, volunteer_id, persons FROM household WHERE volunteer_id IN (${placeholders(some.length)})`,
			some,
		);
		for (const { id, volunteerId, persons } of rows) {
			if (within.has(id)) continue;
			const load = loads.get(volunteerId) ?? { households: 0, persons: 0 };
			loads.set(volunteerId, { households: load.households + 1, persons: load.persons + persons });
		}
	}
	return loads;
}

interface Usual {
	readonly policy: Policy;
	readonly terms: AssignmentTerms;
	readonly litres: number;
}

function candidateOf(volunteer: VolunteerFacts, elsewhere: Elsewhere | undefined, { policy, terms, litres }: Usual): Candidate {
	const { id, latitudeDeg, longitudeDeg, language, mostLitresPerDay, mostHoursPerWeek } = volunteer;
	const most = mostHouseholdsOf(volunteer, policy);
	const visitHours = (terms.visitsPerWeek * terms.visitMinutes) / 60;
	const left = (all: number | null, taken: number) => (all === null ? null : Math.max(0, all - taken));
	return {
		id,
		latitudeDeg,
		longitudeDeg,
		language,
		mostHouseholds: Math.max(0, most - (elsewhere?.households ?? 0)),
		mostLitresPerDay: left(mostLitresPerDay, (elsewhere?.persons ?? 0) * litres),
		mostHoursPerWeek: left(mostHoursPerWeek, (elsewhere?.households ?? 0) * visitHours),
	};
}

/** @returns how many households a volunteer can take on: as she has said, else by her working days */
export function mostHouseholdsOf(
	{ mostHouseholds, workingDays }: { readonly mostHouseholds: number | null; readonly workingDays: string },
	{ assignment: { householdsPerWorkingDay, visitsPerWeek } }: Policy,
): number {
	const days = (JSON.parse(workingDays) as number[]).length;
	return mostHouseholds ?? Math.max(1, Math.round((householdsPerWorkingDay * days) / visitsPerWeek));
}

function termsOf({ assignment }: Policy): AssignmentTerms {
	const { changeKm, languageKm, unevenKm, evenWithin, visitsPerWeek, visitMinutes, walkingKmPerH, detour } = assignment;
	return { changeKm, languageKm, unevenKm, evenWithin, visitsPerWeek, visitMinutes, walkingKmPerH: walkingKmPerH / detour };
}
