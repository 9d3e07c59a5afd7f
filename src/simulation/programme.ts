import { drawsFor } from "../demo/draws.js";
import { fictionalPhone, inventedName, inventedPerson } from "../demo/invented.js";
import { beside, DEMO_TIME_ZONE } from "../demo/places.js";
import type { GeneratorRow } from "../generators/rows.js";
import type { AreaRow, ContainerRow, HouseholdRow, PersonRow, ProgrammeRow } from "../programme/rows.js";
import type { MonthlyClimate } from "../science/climate.js";
import { VirtualClock } from "../time/clock.js";
import { Ids } from "../time/ids.js";
import { isCloudy } from "./truth/water.js";

/** How large a simulated programme is. */
export interface ProgrammeSize {
	readonly households: number;
	readonly volunteers: number;
	readonly generators: number;
}

/** A programme of so many households in the proportions of 2,000 households, 60 volunteers and 8 generators; two generators at the least. */
export function sizeFor(households: number): ProgrammeSize {
	const volunteers = Math.max(1, Math.round((households * 60) / 2000));
	return { households, volunteers, generators: Math.min(volunteers, Math.max(2, Math.round((volunteers * 8) / 60))) };
}

/** Midnight of 1 January 2026 in the simulated places. */
export const SIMULATION_START_MS = Date.UTC(2025, 11, 31, 21);
/** Every household has one container of so many litres, filled once a day. */
export const CONTAINER_L = 20;
const PERSONS = 4;

// Invented: a tropical lowland with a hot season before the rains of June.
const DAY_C = [32, 33.5, 35.5, 36, 34.5, 32, 30.5, 30, 31, 32.5, 32.5, 31.5];
const NIGHT_C = [20, 21.5, 24, 25.5, 25.5, 24, 23, 23, 23, 23, 21.5, 20];
const CLOUD = [0.25, 0.25, 0.3, 0.35, 0.45, 0.6, 0.7, 0.7, 0.65, 0.5, 0.3, 0.25];
export const SIMULATED_CLIMATE: readonly MonthlyClimate[] = DAY_C.map((dayMeanC, month) => ({
	dayMeanC,
	nightMeanC: NIGHT_C[month] as number,
	cloudFraction: CLOUD[month] as number,
}));

/** Three cells of 16.8 A for 75 min fill 10 L with 5 g/L: a small station's generator, from a panel. */
const GENERATOR = { ratedCurrentA: 16.8, cellsInSeries: 3, currentEfficiency: 0.6, batchVolumeL: 10, saltGPerL: 30 };

/** The rows of a simulated programme, parents before children. */
export interface SimulatedProgramme {
	readonly seed: number;
	readonly size: ProgrammeSize;
	readonly programme: ProgrammeRow;
	readonly areas: readonly AreaRow[];
	readonly people: readonly PersonRow[];
	readonly volunteers: readonly PersonRow[];
	readonly households: readonly HouseholdRow[];
	readonly containers: readonly ContainerRow[];
	readonly generators: readonly GeneratorRow[];
}

/**
 * @param policy of the way of working that is simulated; all else is the same for every way
 * @returns rows with ids, the same for the same seed and size
 */
export function simulatedProgramme(seed: number, size: ProgrammeSize, policy: unknown): SimulatedProgramme {
	const ids = new Ids(new VirtualClock(SIMULATION_START_MS), drawsFor(seed, "ids"));
	const place = { timeZone: DEMO_TIME_ZONE, altitudeM: 300, climate: [...SIMULATED_CLIMATE] };
	const middle = { latitudeDeg: -1.5, longitudeDeg: 45.5 };
	const district: AreaRow = { id: ids.next(), parentId: null, code: "SIM", name: inventedName("district"), ...middle, ...place };
	const villages = Array.from({ length: size.generators }, (_, i): AreaRow => {
		const code = `A${i + 1}`;
		const where = beside(middle, 8 * (i % 4), 8 * Math.floor(i / 4));
		return { id: ids.next(), parentId: district.id, code, name: inventedName(`village ${i + 1}`), ...where, ...place };
	});
	let phones = 0;
	const person = (
		role: PersonRow["role"],
		code: string,
		areaId: string,
		supervisorId: string | null,
		phone = phones++,
	): PersonRow => ({
		...{ id: ids.next(), code, role, name: inventedPerson(code), phoneE164: fictionalPhone(phone % 1000), email: null },
		...{ language: "en", areaId, supervisorId, workingDays: [1, 2, 3, 4, 5, 6], quietFrom: "19:00", quietUntil: "07:00" },
		...{ channels: [], active: true, optedOutAtMs: null, consentedAtMs: null, erasedAtMs: null },
	});
	const office = person("health office", "H1", district.id, null);
	const supervisors = villages.map((area, i) => person("supervisor", `S${i + 1}`, area.id, office.id));
	const volunteers = Array.from({ length: size.volunteers }, (_, i) => {
		const at = i % villages.length;
		return person("volunteer", `V${String(i + 1).padStart(2, "0")}`, villages[at]!.id, supervisors[at]!.id);
	});
	const households = Array.from({ length: size.households }, (_, i): HouseholdRow => {
		const volunteer = volunteers[i % volunteers.length] as PersonRow;
		const code = `N${String(i + 1).padStart(4, "0")}`;
		const cloudy = isCloudy(seed, code);
		return {
			...{ id: ids.next(), code, areaId: volunteer.areaId, volunteerId: volunteer.id, persons: PERSONS },
			...{ waterSource: cloudy ? "river" : "borehole", turbidity: cloudy ? "cloudy" : "clear" },
			...{ latitudeDeg: null, longitudeDeg: null },
		};
	});
	const containers = households.map(
		({ id, code }): ContainerRow => ({
			...{ id: ids.next(), code: `${code}-A`, householdId: id, volumeL: CONTAINER_L, kind: "narrow mouth", lastCleanedOn: null },
		}),
	);
	const generators = villages.map((area, i): GeneratorRow => {
		const operatorId = volunteers.find(({ areaId }) => areaId === area.id)?.id ?? null;
		return {
			...{ id: ids.next(), code: `G${i + 1}`, name: inventedName(`generator ${i + 1}`), areaId: area.id, ...GENERATOR },
			...{ inService: true, operatorId },
		};
	});
	return {
		...{ seed, size, areas: [district, ...villages], people: [office, ...supervisors, ...volunteers], volunteers },
		...{ households, containers, generators },
		programme: {
			...{ id: "programme", name: inventedName(`simulated programme, seed ${seed}`), policy },
			changedAtMs: SIMULATION_START_MS,
		},
	};
}
