import { rounded } from "../science/rounded.js";
import { distanceKm } from "../science/visit-times.js";
import { primary } from "./costs.js";
import type { AssignmentProblem } from "./problem.js";

/** What an assignment asks of the volunteers together. */
export interface Figures {
	/** From each volunteer's place to each of her households, one way, in a straight line. */
	readonly distanceKm: number;
	/** Households whose volunteer is another than today's. */
	readonly moves: number;
	readonly withoutVolunteer: number;
	/** Households whose volunteer doesn't speak their language. */
	readonly otherLanguage: number;
}

/** What one volunteer has, and can take on. */
export interface Load {
	readonly volunteerId: string;
	readonly householdsToday: number;
	readonly households: number;
	/** Within the proposal; what she has elsewhere is taken off. */
	readonly mostHouseholds: number;
	readonly litresPerDay: number;
	readonly hoursPerWeek: number;
	readonly distanceKm: number;
}

/** @param chosen by the order of the households the volunteer's id; null: nobody */
export function figuresOf(problem: AssignmentProblem, chosen: readonly (string | null)[]): Figures {
	const candidates = new Map(problem.candidates.map((candidate) => [candidate.id, candidate]));
	let [km, moves, without, otherLanguage] = [0, 0, 0, 0];
	for (const [i, household] of problem.households.entries()) {
		const id = chosen[i] ?? null;
		if (id === null) without++;
		if (id !== null && household.todayId !== null && id !== household.todayId) moves++;
		const candidate = candidates.get(id ?? "");
		if (!candidate) continue;
		km += distanceKm(household, candidate);
		if (household.language !== null && primary(household.language) !== primary(candidate.language)) otherLanguage++;
	}
	return { distanceKm: rounded(km, 2), moves, withoutVolunteer: without, otherLanguage };
}

export function loadsOf(problem: AssignmentProblem, chosen: readonly (string | null)[]): Load[] {
	const { terms } = problem;
	const loads = new Map(
		problem.candidates.map(({ id, mostHouseholds }) => [
			id,
			{ volunteerId: id, householdsToday: 0, households: 0, mostHouseholds, litresPerDay: 0, hoursPerWeek: 0, distanceKm: 0 },
		]),
	);
	const candidates = new Map(problem.candidates.map((candidate) => [candidate.id, candidate]));
	for (const [i, household] of problem.households.entries()) {
		const today = loads.get(household.todayId ?? "");
		if (today) today.householdsToday++;
		const load = loads.get(chosen[i] ?? "");
		const candidate = candidates.get(chosen[i] ?? "");
		if (!load || !candidate) continue;
		const km = distanceKm(household, candidate);
		load.households++;
		load.litresPerDay += household.litresPerDay;
		load.hoursPerWeek += terms.visitsPerWeek * (terms.visitMinutes / 60 + (2 * km) / terms.walkingKmPerH);
		load.distanceKm += km;
	}
	return [...loads.values()].map((load) => ({
		...load,
		litresPerDay: rounded(load.litresPerDay, 2),
		hoursPerWeek: rounded(load.hoursPerWeek, 2),
		distanceKm: rounded(load.distanceKm, 2),
	}));
}

/** @returns what would make room for households that are left over, in a sentence; none where none are */
export function remedyFor(problem: AssignmentProblem, leftOver: number): string | null {
	if (leftOver === 0) return null;
	const room = problem.candidates.reduce((sum, { mostHouseholds }) => sum + mostHouseholds, 0);
	const missing = problem.households.length - room;
	const mean = problem.candidates.length > 0 ? room / problem.candidates.length : 0;
	if (problem.candidates.length === 0)
		return `No volunteer of this area is at work. Bring in volunteers, or propose for an area above it.`;
	const more =
		mean > 0
			? `about ${Math.ceil(Math.max(missing, leftOver) / mean)} more volunteers who can take on as much as the others, or `
			: "";
	if (missing > 0)
		return `${problem.candidates.length} volunteers have room for ${room} of ${problem.households.length} households. Needed: ${more}room for ${missing} more households among those there are.`;
	return `There is room for ${room} households, but litres a day, hours a week or staying with one volunteer keep ${leftOver} out. Needed: ${more}higher limits, or fewer households that must stay.`;
}
