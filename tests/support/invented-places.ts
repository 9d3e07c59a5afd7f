import type { AssignmentProblem, AssignmentTerms, Candidate, PlacedHousehold } from "../../src/assignment/problem.js";
import { SeededRandomness } from "../../src/time/randomness.js";

/** Nothing but walking counts. */
export const WALKING_ALONE: AssignmentTerms = {
	changeKm: 0,
	languageKm: 0,
	unevenKm: 0,
	evenWithin: 1.2,
	visitsPerWeek: 1,
	visitMinutes: 15,
	walkingKmPerH: 3.5,
};

/** An invented district of villages, about 25 km across, in which volunteers live among the households. */
export function inventedProblem(
	households: number,
	volunteers: number,
	options: {
		readonly seed?: number;
		readonly roomShare?: number;
		readonly litres?: boolean;
		readonly terms?: Partial<AssignmentTerms>;
	} = {},
): AssignmentProblem {
	const randomness = new SeededRandomness(options.seed ?? 1);
	const uniform = () => randomness.below(1_000_000) / 1_000_000;
	const villages = Array.from(
		{ length: Math.max(1, Math.ceil(households / 100)) },
		() => [uniform() * 0.22, uniform() * 0.22] as const,
	);
	const place = () => {
		const [north, east] = villages[randomness.below(villages.length)]!;
		return {
			latitudeDeg: -1.5 + north + (uniform() + uniform() - 1) * 0.015,
			longitudeDeg: 37 + east + (uniform() + uniform() - 1) * 0.015,
		};
	};
	const mean = (households / volunteers) * (options.roomShare ?? 1.2);
	const candidates = Array.from({ length: volunteers }, (_, j): Candidate => {
		const mostHouseholds = Math.max(1, Math.round(mean * (0.6 + 0.8 * uniform())));
		return {
			id: `v${j}`,
			...place(),
			language: j % 5 === 0 ? "fr" : "en",
			mostHouseholds,
			mostLitresPerDay: options.litres && j % 3 === 0 ? mostHouseholds * 22 : null,
			mostHoursPerWeek: options.litres && j % 4 === 0 ? mostHouseholds * 0.8 : null,
		};
	});
	const items = Array.from(
		{ length: households },
		(_, i): PlacedHousehold => ({
			id: `h${i}`,
			...place(),
			language: i % 7 === 0 ? "fr" : null,
			litresPerDay: 5.3 * (1 + randomness.below(8)),
			todayId: i % 2 === 0 ? `v${randomness.below(volunteers)}` : null,
			staysWithId: null,
		}),
	);
	return { candidates, households: items, terms: { ...WALKING_ALONE, ...options.terms } };
}
