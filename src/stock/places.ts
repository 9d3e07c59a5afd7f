import { type Exposure, type ExposureCalendar, exposureCalendar, type MonthlyClimate, type Wall } from "../science/exposure.js";

/** Where and in what a jar stands: everything that decides what a day does to it. */
export interface JarPlace {
	readonly areaId: string;
	readonly latitudeDeg: number;
	readonly altitudeM: number;
	readonly climate: readonly MonthlyClimate[];
	readonly wall: Wall;
	readonly exposure: Exposure;
	readonly volumeL: number;
	readonly litAreaM2: number;
	readonly madeStrengthGPerL: number;
}

/** The strength that sets how much light a jar absorbs, g/L: whole ones, so that jars share calendars. */
export const strengthForLightGPerL = (madeStrengthGPerL: number): number => Math.round(madeStrengthGPerL) || 1;

/** As many kinds of place as a district has, several times over. */
const MOST_KEPT = 2000;

/** A year's exposure for each kind of place, made once: jars of one wall, size and area share it. */
export class Calendars {
	private readonly made = new Map<string, { climate: string; calendar: ExposureCalendar }>();

	of(place: JarPlace): ExposureCalendar {
		// A sheltered jar gets no light that matters: volume, lit area and strength don't tell such places apart.
		const litBy =
			place.exposure === "indoors" && place.wall === "opaque"
				? ""
				: `${place.volumeL}|${place.litAreaM2}|${strengthForLightGPerL(place.madeStrengthGPerL)}`;
		const key = `${place.areaId}|${place.wall}|${place.exposure}|${litBy}`;
		const climate = JSON.stringify(place.climate);
		const known = this.made.get(key);
		if (known?.climate === climate) return known.calendar;
		const calendar = exposureCalendar(
			{
				latitudeDeg: place.latitudeDeg,
				altitudeM: place.altitudeM,
				climate: place.climate,
				wall: place.wall,
				exposure: place.exposure,
				solutionVolumeL: place.volumeL,
				litAreaM2: place.litAreaM2,
			},
			strengthForLightGPerL(place.madeStrengthGPerL),
		);
		if (this.made.size >= MOST_KEPT) this.made.delete(this.made.keys().next().value as string);
		this.made.set(key, { climate, calendar });
		return calendar;
	}
}
