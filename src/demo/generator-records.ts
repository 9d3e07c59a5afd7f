import type { KitLotRow } from "../generators/kit-rows.js";
import type { BatteryReadingRow, BatteryRow, GeneratorCareRow } from "../generators/rows.js";
import type { GeneratorRunRow } from "../generators/run-rows.js";
import type { PersonRow } from "../programme/rows.js";
import { currentNeededA } from "../science/faraday.js";
import { rounded } from "../science/rounded.js";
import type { BatchRow } from "../stock/rows.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { localDateOf, localTimeOf } from "../time/local.js";
import { between, drawsFor } from "./draws.js";
import type { DemoGenerator } from "./generator-rows.js";
import { DEMO_KIT } from "./kit-reading.js";
import type { Making } from "./making.js";
import type { People } from "./people.js";
import { DEMO_TIME_ZONE } from "./places.js";

/** What was written down of generators before the start. */
export interface GeneratorRecords {
	readonly batteries: readonly BatteryRow[];
	readonly runs: readonly GeneratorRunRow[];
	readonly care: readonly GeneratorCareRow[];
	readonly batteryReadings: readonly BatteryReadingRow[];
	readonly kitLots: readonly KitLotRow[];
}

/** The last descaling, and how long before the start somebody looked at the electrode. */
const DESCALED_DAYS = 33;
const LOOKED_DAYS = [6, 5, 3, 4] as const;
/** Days until a volunteer's reagent expires: two of them within the next weeks. */
const EXPIRES_IN_DAYS = [400, 22, 300, 260, 410, 180, 17, 365, 420, 150, 240, 390, 200, 330] as const;

/** @returns whom a generator's work is asked of: the first volunteer of its village who usually answers */
export function operatorOf({ row }: DemoGenerator, { volunteers, habits }: People): PersonRow | undefined {
	const here = volunteers.filter(({ areaId }) => areaId === row.areaId);
	return here.find(({ id }) => habits[id]?.answers === "soon" && habits[id]?.reachable) ?? here[0];
}

/** @returns the runs that filled the jars, each with the current that its record tells, and what was done and read in between */
export function generatorRecordsOf(
	making: Making,
	generators: readonly DemoGenerator[],
	people: People,
	jars: readonly BatchRow[],
): GeneratorRecords {
	const { startAtMs, days, newId } = making;
	const begunAtMs = days.instant(DESCALED_DAYS, 9 * 60);
	const batteries = generators.map(
		({ row, village }): BatteryRow => ({
			id: newId(begunAtMs),
			code: `BAT-${village}`,
			areaId: row.areaId,
			generatorId: row.id,
			// The large ones take two of 70 A h.
			ratedAh: row.batchVolumeL > 5 ? 140 : 70,
			ratedHours: 20,
			peukertExponent: 1.2,
			inUse: true,
			sinceMs: days.instant(60, 9 * 60),
		}),
	);
	const runs = generators.flatMap((generator, i) =>
		runsOf(making, generator, batteries[i]!, operatorOf(generator, people), jars),
	);
	const care = generators.flatMap(({ row }, i): GeneratorCareRow[] => {
		const done = (work: GeneratorCareRow["work"], doneAtMs: number): GeneratorCareRow => ({
			...{ id: newId(doneAtMs), generatorId: row.id, work, doneAtMs, recordedAtMs: doneAtMs },
			...{ byPersonId: row.operatorId ?? null, taskId: null, look: work === "inspected" ? "clean" : null },
		});
		return [
			done("descaled", begunAtMs),
			...runs.filter(({ generatorId }) => generatorId === row.id).map(({ endedAtMs }) => done("rinsed", endedAtMs as number)),
			done("inspected", days.instant(LOOKED_DAYS[i]!, 10 * 60)),
		];
	});
	const batteryReadings = batteries.map((battery, i): BatteryReadingRow => {
		const readAtMs = days.instant(2 + i, 6 * 60 + 30);
		return {
			...{ id: newId(readAtMs), batteryId: battery.id, readAtMs, recordedAtMs: readAtMs + HOUR_MS, restHours: 9 },
			restVoltageV: rounded(between(drawsFor(making.start, "rest voltage", battery.code), 12.5, 12.66), 2),
			readerId: generators[i]!.row.operatorId ?? null,
			taskId: null,
		};
	});
	const kitLots = people.volunteers.map(
		(volunteer, i): KitLotRow => ({
			id: newId(begunAtMs),
			code: `KIT-${volunteer.code}`,
			kit: DEMO_KIT,
			lot: `INV-${100 + i}`,
			areaId: volunteer.areaId,
			holderId: volunteer.id,
			receivedOn: days.date(60),
			expiresOn: localDateOf(startAtMs + EXPIRES_IN_DAYS[i % EXPIRES_IN_DAYS.length]! * DAY_MS, DEMO_TIME_ZONE),
			openedOn: days.date(50),
			state: "in use",
		}),
	);
	const byTime = <R extends { readonly recordedAtMs: number }>(rows: readonly R[]) =>
		rows.toSorted((a, b) => a.recordedAtMs - b.recordedAtMs);
	return { batteries, runs: byTime(runs), care: byTime(care), batteryReadings, kitLots };
}

/** One run a filling: the jars that were made at one instant are of one run, which names the first of them. */
function runsOf(
	{ newId }: Making,
	{ row, runMinutes }: DemoGenerator,
	battery: BatteryRow,
	operator: PersonRow | undefined,
	jars: readonly BatchRow[],
): GeneratorRunRow[] {
	const filled = new Map(jars.filter(({ generatorId }) => generatorId === row.id).map((jar) => [jar.madeAtMs, jar]));
	return [...filled.values()].map((jar): GeneratorRunRow => {
		const startedAtMs = jar.madeAtMs - runMinutes * MINUTE_MS;
		const wanted = { strengthGPerL: jar.madeStrengthGPerL, volumeL: row.batchVolumeL, runMinutes };
		const currentA = currentNeededA({ ...wanted, currentEfficiency: row.currentEfficiency, cellsInSeries: row.cellsInSeries });
		return {
			id: newId(jar.madeAtMs),
			code: `${row.code}.${localTimeOf(startedAtMs, DEMO_TIME_ZONE).slice(2, 16).replace(/[-:]/g, "").replace(" ", "-")}`,
			...{
				generatorId: row.id,
				operatorId: operator?.id ?? null,
				startedAtMs,
				endedAtMs: jar.madeAtMs,
				recordedAtMs: jar.madeAtMs,
			},
			...{ saltG: row.saltGPerL * row.batchVolumeL, waterL: row.batchVolumeL, powerSource: "battery", batteryId: battery.id },
			...{ currentA: rounded(currentA, 1), restVoltageV: null, gasSeen: true, batchId: jar.id, furtherOfRunId: null },
		};
	});
}
