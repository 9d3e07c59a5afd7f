import type { ContainerKind, ContainerRow, HouseholdRow, PersonRow, Turbidity } from "../programme/rows.js";
import { rounded } from "../science/rounded.js";
import type { Randomness } from "../time/randomness.js";
import type { DaysBefore } from "./days.js";
import { around, between, drawsFor, happens, weighted } from "./draws.js";
import { VILLAGES } from "./invented.js";
import type { People } from "./people.js";
import { beside, type Places } from "./places.js";

/** What a household's water does to chlorine, and how much of it is treated. */
export interface WaterTruth {
	/** Chlorine that is gone after the first half hour, mg/L. */
	readonly demandMgPerL: number;
	/** First-order loss afterwards, 1/h. */
	readonly decayPerHour: number;
	/** Treated water that the household wants, litres a person a day. */
	readonly treatedLPerPersonPerDay: number;
	/** Whether its doses are written down. */
	readonly recorded: boolean;
}

export interface Homes {
	readonly households: readonly HouseholdRow[];
	readonly containers: readonly ContainerRow[];
	/** By the household's id. */
	readonly water: Readonly<Record<string, WaterTruth>>;
}

// Invented; the mean is near 4.9, as rural surveys of the region have it (common practice, no source).
const SIZES = [
	[1, 6],
	[2, 9],
	[3, 13],
	[4, 17],
	[5, 17],
	[6, 14],
	[7, 10],
	[8, 7],
	[9, 4],
	[10, 3],
] as const;

const SOURCES: readonly (readonly [readonly [string, Turbidity], number])[] = [
	[["protected spring", "clear"], 34],
	[["borehole", "clear"], 22],
	[["rainwater tank", "clear"], 12],
	[["dug well", "cloudy"], 17],
	[["river", "cloudy"], 12],
	[["river", "very turbid"], 3],
];

const VOLUMES_L = [
	[20, 74],
	[10, 14],
	[15, 4],
	[25, 8],
] as const;

const KINDS: readonly (readonly [ContainerKind, number])[] = [
	["narrow mouth", 58],
	["tap", 14],
	["bucket with cover", 18],
	["wide mouth", 10],
];

/** @returns households around their villages, each with a volunteer, one or two containers and a water of its own */
export function homesOf(start: number, days: DaysBefore, places: Places, people: People, newId: () => string): Homes {
	const households: HouseholdRow[] = [];
	const containers: ContainerRow[] = [];
	const water: Record<string, WaterTruth> = {};
	for (const village of VILLAGES) {
		const area = places.villages.get(village.code);
		if (!area) continue;
		const volunteers = people.volunteers.filter(({ areaId }) => areaId === area.id);
		for (let number = 1; number <= village.households; number++) {
			const code = `${village.code}-${String(number).padStart(3, "0")}`;
			const draws = drawsFor(start, "household", code);
			const persons = weighted(draws, SIZES);
			const [waterSource, turbidity] = weighted(draws, SOURCES);
			const household: HouseholdRow = {
				id: newId(),
				code,
				areaId: area.id,
				volunteerId: (volunteers[(number - 1) % volunteers.length] as PersonRow).id,
				persons,
				waterSource,
				turbidity,
				...beside(area, 0.5 * draws.normal(), 0.5 * draws.normal()),
			};
			households.push(household);
			water[household.id] = waterTruth(draws, turbidity);
			containers.push(...containersOf(draws, household, days, newId));
		}
	}
	return { households, containers, water };
}

function containersOf(draws: Randomness, household: HouseholdRow, days: DaysBefore, newId: () => string): ContainerRow[] {
	const count = household.persons >= 6 || happens(draws, 0.4) ? 2 : 1;
	return Array.from({ length: count }, (_, i) => ({
		id: newId(),
		code: `${household.code}-${"AB"[i]}`,
		householdId: household.id,
		volumeL: weighted(draws, VOLUMES_L),
		kind: weighted(draws, KINDS),
		lastCleanedOn: happens(draws, 0.9) ? days.date(Math.floor(around(draws, 6, 0.6))) : null,
	}));
}

// Around what the published field dosages left in clear and in cloudy water; see the tests for the figures.
function waterTruth(draws: Randomness, turbidity: Turbidity): WaterTruth {
	const clear = turbidity === "clear";
	return {
		demandMgPerL: rounded(around(draws, clear ? 0.65 : 2.1, clear ? 0.5 : 0.25), 3),
		decayPerHour: rounded(around(draws, clear ? 0.055 : 0.085, 0.5), 4),
		treatedLPerPersonPerDay: rounded(between(draws, 3, 6), 1),
		recorded: turbidity !== "very turbid" && happens(draws, 0.66),
	};
}
