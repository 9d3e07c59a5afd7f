import type { PersonRow } from "../programme/rows.js";
import type { Exposure, Wall } from "../science/exposure.js";
import { strengthMadeGPerL } from "../science/faraday.js";
import { rounded } from "../science/rounded.js";
import type { BatchRow } from "../stock/rows.js";
import { around, between, drawsFor, happens } from "./draws.js";
import type { DemoGenerator } from "./generator-rows.js";
import { VILLAGES } from "./invented.js";
import type { Making } from "./making.js";
import type { People } from "./people.js";
import type { Places } from "./places.js";

/** Every jar holds this much. */
const JAR_L = 5;
/** Its lit side, as a can of 5 L shows it to the sun. */
const LIT_AREA_M2 = 0.03;
/** How well the record of a run tells its strength. */
const MADE_STRENGTH_LN_SD = 0.2;
/** Days between two runs, and the day before the start on which the last one was. */
const RHYTHM = {
	FIG: { everyDays: 12, lastDay: 2 },
	RED: { everyDays: 12, lastDay: 8 },
	LON: { everyDays: 4, lastDay: 1 },
	HER: { everyDays: 4, lastDay: 3 },
} as const;
/** Runs go back further than the other records, so that there is bleach on the first day. */
const OLDEST_RUN_DAYS = 47;
/** A new jar is begun when the old one is empty: until then both are in use. */
const BOTH_IN_USE_DAYS = 3;

// Where each volunteer keeps her jar, in the order of the volunteers.
const KEPT: readonly (readonly [Wall, Exposure])[] = [
	["opaque", "indoors"],
	["opaque", "indoors"],
	["opaqueWhite", "indoors"],
	["translucent", "shade"],
	["opaque", "indoors"],
	["opaque", "indoors"],
	["translucent", "directSun"],
	["opaque", "shade"],
	["opaque", "indoors"],
	["opaqueWhite", "indoors"],
	["translucent", "indoors"],
	["opaque", "indoors"],
	["clearPlastic", "shade"],
	["opaque", "indoors"],
];

/** @returns the jars that were filled before the start, the oldest first */
export function jarsOf(making: Making, places: Places, people: People, generators: readonly DemoGenerator[]): BatchRow[] {
	const jars: BatchRow[] = [];
	const newestDays = new Map<string, number>();
	for (const village of VILLAGES) {
		const generator = generators.find((g) => g.village === village.code);
		const areaId = places.villages.get(village.code)?.id;
		if (!generator || !areaId) continue;
		const keepers = people.volunteers.filter((volunteer) => volunteer.areaId === areaId);
		const { everyDays, lastDay } = RHYTHM[village.code];
		const jarsARun = generator.row.batchVolumeL / JAR_L;
		const ofVillage: BatchRow[] = [];
		for (let day = lastDay, run = 0; day <= OLDEST_RUN_DAYS; day += everyDays, run++) {
			for (let filled = 0; filled < jarsARun; filled++) {
				const keeper = keepers[(run * jarsARun + filled) % keepers.length] as PersonRow;
				const youngest = newestDays.get(keeper.id);
				if (youngest === undefined) newestDays.set(keeper.id, day);
				const place = people.volunteers.indexOf(keeper);
				ofVillage.push({
					...jarOfRun(making, generator, day, areaId),
					...keptBy(making.start, keeper, place, day),
					state: stateAfter(youngest, day, (everyDays * keepers.length) / jarsARun),
				});
			}
		}
		ofVillage.sort((a, b) => a.madeAtMs - b.madeAtMs);
		jars.push(...ofVillage.map((jar, i) => ({ ...jar, code: `${village.code}-J${String(i + 1).padStart(2, "0")}` })));
	}
	return jars.sort((a, b) => a.madeAtMs - b.madeAtMs);
}

/** One run fills all of its jars with the same. */
function jarOfRun(
	{ start, days, newId }: Making,
	{ row: generator, runMinutes }: DemoGenerator,
	day: number,
	areaId: string,
): Omit<BatchRow, "keeperId" | "wall" | "exposure" | "state"> {
	const draws = drawsFor(start, "making", generator.code, days.date(day));
	const currentA = around(draws, generator.ratedCurrentA, 0.03);
	const madeAtMs = days.instant(day, 8 * 60 + between(draws, 0, 90) + runMinutes);
	const pHStrip = happens(draws, 0.25);
	return {
		id: newId(madeAtMs),
		code: "",
		generatorId: generator.id,
		areaId,
		madeAtMs,
		volumeL: JAR_L,
		madeStrengthGPerL: rounded(strengthMadeGPerL({ ...generator, currentA, runMinutes, volumeL: generator.batchVolumeL }), 2),
		madeStrengthLnSd: MADE_STRENGTH_LN_SD,
		saltGPerL: generator.saltGPerL,
		ph: pHStrip ? rounded(between(draws, 8.85, 9.25), 1) : null,
		phKnowledge: pHStrip ? "strip" : "not measured",
		litAreaM2: LIT_AREA_M2,
		forecast: null,
	};
}

function keptBy(start: number, keeper: PersonRow, place: number, day: number): Pick<BatchRow, "keeperId" | "wall" | "exposure"> {
	const [wall, usual] = KEPT[place] as readonly [Wall, Exposure];
	// Now and then a jar is left where it was filled.
	const exposure = happens(drawsFor(start, "left outside", keeper.code, day), 0.08) ? "directSun" : usual;
	return { keeperId: keeper.id, wall, exposure };
}

/** @param youngest age in days of the keeper's newest jar, if it isn't this one */
function stateAfter(youngest: number | undefined, day: number, daysAJar: number): BatchRow["state"] {
	if (youngest === undefined) return "in use";
	return day - youngest <= daysAJar && youngest < BOTH_IN_USE_DAYS ? "in use" : "discarded";
}
