import { InputError } from "../errors/errors.js";
import type { ContainerKind, Turbidity } from "../programme/rows.js";
import { climateOfDay, type MonthlyClimate } from "../science/climate.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { dayOfYear } from "./dose-card.js";
import type { WaterHabits } from "./habits.js";
import { turbidityIn } from "./need.js";

/** A container with its household, as far as what follows from a dose or a reading is decided by it. */
export interface KnownContainer {
	readonly id: string;
	readonly code: string;
	readonly volumeL: number;
	readonly kind: ContainerKind;
	/** 'YYYY-MM-DD' in the area's zone. */
	readonly lastCleanedOn: string | null;
	readonly householdId: string;
	readonly householdCode: string;
	readonly persons: number;
	/** Of the usual source; `waterNow` has the season's. */
	readonly turbidity: Turbidity;
	readonly volunteerId: string | null;
	readonly areaId: string;
	readonly timeZone: string;
	readonly climate: readonly MonthlyClimate[];
	readonly habits: WaterHabits;
	/** How many times its protocol's dose the household gives to such water; 1 where its readings haven't told that it takes more. */
	readonly doseTimes: { readonly clear: number; readonly cloudy: number };
}

const SELECT = `SELECT c.id, c.code, c.volume_l, c.kind, c.last_cleaned_on, h.id AS household_id, h.code AS household_code, h.persons, h.turbidity,
	h.volunteer_id, h.area_id, a.time_zone, a.climate, w.drinking_l_per_person_day, w.food_l_per_person_day, w.hygiene_l_per_person_day,
	w.refill_every_hours, w.season_from_month, w.season_until_month, w.season_source, w.season_turbidity, o.clear_times, o.cloudy_times
	FROM container c JOIN household h ON h.id = c.household_id JOIN area a ON a.id = h.area_id LEFT JOIN household_water w ON w.household_id = h.id
		LEFT JOIN household_dose o ON o.household_id = h.id`;

type Row = Omit<KnownContainer, "climate" | "habits" | "doseTimes"> &
	Required<WaterHabits> & { climate: string; clearTimes: number | null; cloudyTimes: number | null };

function known(row: Row): KnownContainer {
	const { drinkingLPerPersonDay, foodLPerPersonDay, hygieneLPerPersonDay, refillEveryHours, ...rest } = row;
	const { seasonFromMonth, seasonUntilMonth, seasonSource, seasonTurbidity, climate, clearTimes, cloudyTimes, ...container } =
		rest;
	const litres = { drinkingLPerPersonDay, foodLPerPersonDay, hygieneLPerPersonDay, refillEveryHours };
	const season = { seasonFromMonth, seasonUntilMonth, seasonSource, seasonTurbidity };
	return {
		...container,
		climate: JSON.parse(climate) as MonthlyClimate[],
		habits: { ...litres, ...season },
		doseTimes: { clear: clearTimes ?? 1, cloudy: cloudyTimes ?? 1 },
	};
}

type Reader = Pick<Transaction, "query">;

/** @returns containers by id, in one statement; one that isn't there is left out. @param ids 500 at most */
export async function containersKnown(from: Reader, ids: readonly string[]): Promise<ReadonlyMap<string, KnownContainer>> {
	if (ids.length === 0) return new Map();
	const rows = await from.query<Row>(`${SELECT} WHERE c.id IN (${placeholders(ids.length)})`, ids);
	return new Map(rows.map((row) => [row.id, known(row)]));
}

/** @returns a household's containers, by code */
export async function containersOf(from: Reader, householdId: string): Promise<KnownContainer[]> {
	return (await from.query<Row>(`${SELECT} WHERE h.id = $1 ORDER BY c.code`, [householdId])).map(known);
}

/** @param at JSON Pointer of the code @throws InputError `unknown-subject` (404) */
export async function containerNamed(from: Reader, code: string, at = "/containerCode"): Promise<KnownContainer> {
	const [row] = await from.query<Row>(`${SELECT} WHERE c.code = $1`, [code]);
	if (row) return known(row);
	throw new InputError("unknown-subject", "There is no container of the code that was given.", {
		status: 404,
		problems: [{ at, message: "must be the code of a container on file" }],
	});
}

/** What a household's water is like at an instant; nobody has measured it. */
export interface LikelyWater {
	/** By its source and season. */
	readonly turbidity: Turbidity;
	/** Mean of the day and the night there, 0 to 45 °C: water in store is about as warm. */
	readonly temperatureC: number;
}

export function waterNow(
	{ turbidity, habits, climate }: Pick<KnownContainer, "turbidity" | "habits" | "climate">,
	atMs: number,
): LikelyWater {
	const { dayMeanC, nightMeanC } = climateOfDay(climate, dayOfYear(atMs));
	return {
		turbidity: turbidityIn({ turbidity, habits }, new Date(atMs).getUTCMonth() + 1),
		temperatureC: Math.min(45, Math.max(0, (dayMeanC + nightMeanC) / 2)),
	};
}
