import type { AreaRow } from "../programme/rows.js";
import type { MonthlyClimate } from "../science/exposure.js";
import { rounded } from "../science/rounded.js";

import { DISTRICT_NAME, inventedName, VILLAGES, type VillageCode } from "./invented.js";

/** A zone without changes of clocks; only the zone is real. */
export const DEMO_TIME_ZONE = "Africa/Nairobi";

/** In the open sea, 200 km off any coast: the coordinates are nobody's home. */
const MIDDLE = { latitudeDeg: -1.5, longitudeDeg: 45.5, altitudeM: 900 };

const KM_PER_DEGREE = 111.2;

// Invented: a tropical upland at 900 m with rains around April and November.
const DAY_C = [27.5, 28.3, 28.4, 27.0, 26.2, 25.4, 25.0, 25.6, 26.8, 27.3, 26.6, 26.8];
const NIGHT_C = [17.5, 18.0, 18.8, 18.9, 18.2, 16.9, 16.4, 16.6, 17.1, 18.0, 18.2, 17.9];
const CLOUD = [0.45, 0.42, 0.52, 0.66, 0.62, 0.55, 0.58, 0.56, 0.48, 0.52, 0.64, 0.54];

/** Fall of the air's temperature with height. Source: ISO 2533:1975, standard atmosphere, 6.5 K/km. */
const COOLING_C_PER_M = 0.0065;

function climateAt(altitudeM: number): MonthlyClimate[] {
	const coolerC = (altitudeM - MIDDLE.altitudeM) * COOLING_C_PER_M;
	return DAY_C.map((dayC, month) => ({
		dayMeanC: rounded(dayC - coolerC, 1),
		nightMeanC: rounded((NIGHT_C[month] as number) - coolerC, 1),
		cloudFraction: CLOUD[month] as number,
	}));
}

/** @returns coordinates so many km east and north of another place, to 4 decimals (11 m) */
export function beside(
	place: { readonly latitudeDeg: number; readonly longitudeDeg: number },
	eastKm: number,
	northKm: number,
): { latitudeDeg: number; longitudeDeg: number } {
	const kmPerDegreeEast = KM_PER_DEGREE * Math.cos((place.latitudeDeg * Math.PI) / 180);
	return {
		latitudeDeg: rounded(place.latitudeDeg + northKm / KM_PER_DEGREE, 4),
		longitudeDeg: rounded(place.longitudeDeg + eastKm / kmPerDegreeEast, 4),
	};
}

/** The district and the villages in it. */
export interface Places {
	readonly district: AreaRow;
	readonly villages: ReadonlyMap<VillageCode, AreaRow>;
}

export function placesOf(newId: () => string): Places {
	const place = { timeZone: DEMO_TIME_ZONE };
	const district: AreaRow = {
		id: newId(),
		parentId: null,
		code: "TWO",
		name: inventedName(`${DISTRICT_NAME} district`),
		...place,
		...MIDDLE,
		climate: climateAt(MIDDLE.altitudeM),
	};
	const villages = VILLAGES.map(({ code, name, altitudeM, eastKm, northKm }): [VillageCode, AreaRow] => [
		code,
		{
			id: newId(),
			parentId: district.id,
			code,
			name: inventedName(`${name} village`),
			...place,
			...beside(MIDDLE, eastKm, northKm),
			altitudeM,
			climate: climateAt(altitudeM),
		},
	]);
	return { district, villages: new Map(villages) };
}
