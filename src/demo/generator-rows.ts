import type { GeneratorRow } from "../generators/rows.js";
import { inventedName, VILLAGES, type VillageCode } from "./invented.js";
import type { Places } from "./places.js";

/** A generator and how long it is run. */
export interface DemoGenerator {
	readonly row: GeneratorRow;
	readonly village: VillageCode;
	readonly runMinutes: number;
}

/**
 * Three cells one after the other at 4 V each take the 12 V of a car battery.
 * 8.4 A for 75 min are 10.5 Ah: 15 % of a battery of 70 Ah. The large ones take 42 Ah from two of them.
 */
const SMALL = { ratedCurrentA: 8.4, cellsInSeries: 3, currentEfficiency: 0.6, batchVolumeL: 5, runMinutes: 75 };
const LARGE = { ratedCurrentA: 16.8, cellsInSeries: 3, currentEfficiency: 0.6, batchVolumeL: 20, runMinutes: 150 };

// Two are worn a little and run at a higher current for it.
const GENERATORS: Readonly<Record<VillageCode, typeof SMALL & { saltGPerL: number }>> = {
	FIG: { ...LARGE, saltGPerL: 30 },
	RED: { ...LARGE, currentEfficiency: 0.57, ratedCurrentA: 17.6, saltGPerL: 28 },
	LON: { ...SMALL, saltGPerL: 30 },
	HER: { ...SMALL, currentEfficiency: 0.63, ratedCurrentA: 8.2, saltGPerL: 28 },
};

/** @returns one generator a village: 20 L where there are four volunteers, 5 L where there are three */
export function generatorsOf(places: Places, newId: () => string): DemoGenerator[] {
	return VILLAGES.map(({ code, name }) => {
		const { runMinutes, ...rating } = GENERATORS[code];
		const row: GeneratorRow = {
			id: newId(),
			code: `G-${code}`,
			name: inventedName(`${name} ${rating.batchVolumeL} L generator`),
			areaId: places.villages.get(code)?.id as string,
			...rating,
			inService: true,
		};
		return { row, village: code, runMinutes };
	});
}
