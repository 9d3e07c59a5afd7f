import type { GeneratorRow } from "../generators/rows.js";
import type { AreaRow, ContainerRow, HouseholdRow, PersonRow, ProgrammeRow } from "../programme/rows.js";
import type { BatchRow, StrengthTestRow } from "../stock/rows.js";
import { VirtualClock } from "../time/clock.js";
import { Ids } from "../time/ids.js";
import type { HouseholdWaterRow } from "../water/habits.js";
import type { DoseRow, ResidualCheckRow } from "../water/rows.js";
import { daysBefore, HISTORY_DAYS } from "./days.js";
import { dosesOf } from "./doses.js";
import { drawsFor } from "./draws.js";
import { type GeneratorRecords, generatorRecordsOf, operatorOf } from "./generator-records.js";
import { generatorsOf } from "./generator-rows.js";
import { habitsOf } from "./household-habits.js";
import { homesOf, type WaterTruth } from "./households.js";
import { programmeName } from "./invented.js";
import { jarsOf } from "./jars.js";
import { DEMO_KIT } from "./kit-reading.js";
import type { Making } from "./making.js";
import { type Habits, peopleOf } from "./people.js";
import { placesOf } from "./places.js";
import { residualChecksOf } from "./residual-checks.js";
import { testsOf } from "./strength-tests.js";
import { type JarTruth, jarTruth, strengthCurve } from "./truth.js";

/** What the program under demonstration never sees. */
export interface Hidden {
	/** By the batch's id. */
	readonly jars: Readonly<Record<string, JarTruth>>;
	/** By the volunteer's id. */
	readonly habits: Readonly<Record<string, Habits>>;
	/** By the household's id. */
	readonly water: Readonly<Record<string, WaterTruth>>;
	/** By the generator's id. */
	readonly runMinutes: Readonly<Record<string, number>>;
}

/** An invented district as rows, parents before children, with five weeks of records behind it. */
export interface District {
	readonly start: number;
	readonly startAtMs: number;
	readonly programme: ProgrammeRow;
	readonly areas: readonly AreaRow[];
	readonly people: readonly PersonRow[];
	readonly households: readonly HouseholdRow[];
	readonly containers: readonly ContainerRow[];
	readonly householdWater: readonly HouseholdWaterRow[];
	readonly generators: readonly GeneratorRow[];
	readonly batches: readonly BatchRow[];
	readonly strengthTests: readonly StrengthTestRow[];
	readonly doses: readonly DoseRow[];
	readonly residualChecks: readonly ResidualCheckRow[];
	readonly generatorRecords: GeneratorRecords;
	readonly hidden: Hidden;
}

/**
 * An invented district: 5 areas, 17 people, 320 households, 4 generators, and their records up to the start.
 *
 * @param start any whole number; another number is another district
 * @param startAtMs where the demo begins, epoch milliseconds; every record lies before it
 * @returns plain rows with ids; the same to the byte for the same two numbers
 */
export function district({ start, startAtMs }: { readonly start: number; readonly startAtMs: number }): District {
	const days = daysBefore(startAtMs);
	const clock = new VirtualClock(startAtMs);
	const ids = new Ids(clock, drawsFor(start, "ids"));
	const newId = (atMs: number) => {
		clock.moveTo(atMs);
		return ids.next();
	};
	const begunAtMs = days.instant(HISTORY_DAYS, 8 * 60);
	const newMasterId = () => newId(begunAtMs);

	const places = placesOf(newMasterId);
	const areas = [places.district, ...places.villages.values()];
	const people = peopleOf(places, newMasterId);
	const homes = homesOf(start, days, places, people, newMasterId);
	const generators = generatorsOf(places, newMasterId).map((generator) => ({
		...generator,
		row: { ...generator.row, operatorId: operatorOf(generator, people)?.id ?? null },
	}));
	const making: Making = {
		start,
		startAtMs,
		days,
		newId,
		areas: new Map(areas.map((a) => [a.id, a])),
		strengthAt: strengthCurve(),
	};
	const jars = jarsOf(making, places, people, generators);
	const strengthTests = testsOf(making, jars, people);
	const generatorRecords = generatorRecordsOf(making, generators, people, jars);
	const doses = dosesOf(making, jars, homes);
	const residualChecks = residualChecksOf(making, jars, homes, people.volunteers, doses);
	return {
		start,
		startAtMs,
		programme: {
			id: "programme",
			name: programmeName(start),
			// A large district with few volunteers: they see each household once in four weeks.
			policy: {
				language: "en",
				testKit: DEMO_KIT,
				water: { checkIntervalDays: 28, cleanEveryDays: { clear: 42, cloudy: 28 } },
			},
			changedAtMs: begunAtMs,
		},
		areas,
		people: [people.healthOffice, ...people.supervisors, ...people.volunteers],
		households: homes.households,
		containers: homes.containers,
		householdWater: habitsOf(start, homes, begunAtMs),
		generators: generators.map(({ row }) => row),
		batches: jars,
		strengthTests,
		doses,
		residualChecks,
		generatorRecords,
		hidden: {
			jars: Object.fromEntries(jars.map((jar) => [jar.id, jarTruth(start, jar)])),
			habits: people.habits,
			water: homes.water,
			runMinutes: Object.fromEntries(generators.map(({ row, runMinutes }) => [row.id, runMinutes])),
		},
	};
}
