import type { Policy, WaterRules } from "../programme/policy.js";
import type { Turbidity } from "../programme/rows.js";
import { bleachMl } from "../science/dose-volume.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { WaterHabits } from "./habits.js";
import type { Protocol } from "./protocol/protocol.js";
import { plannedDose } from "./protocol-dose.js";

/** What a household's need is reckoned from; habits that aren't known are the programme's. */
export interface WaterHousehold {
	readonly persons: number;
	readonly turbidity: Turbidity;
	readonly habits?: WaterHabits | null;
}

/**
 * Water that a household treats.
 *
 * @param household persons 1 or more; its own litres for each use where they are known
 * @param rules which uses are treated, and litres for a person and day where nothing is known
 * @returns L a day
 * Source: persons · litres for a person and day, summed over the treated uses.
 */
export function treatedLitresPerDay({ persons, habits }: Omit<WaterHousehold, "turbidity">, rules: WaterRules): number {
	const { drinking, food, hygiene } = rules.litresPerPersonDay;
	const litres = {
		drinking: habits?.drinkingLPerPersonDay ?? drinking,
		food: habits?.foodLPerPersonDay ?? food,
		hygiene: habits?.hygieneLPerPersonDay ?? hygiene,
	};
	return persons * [...new Set(rules.treatedUses)].reduce((sum, use) => sum + litres[use], 0);
}

/**
 * How cloudy a household's water is in a month: its source may change with the season.
 * @param month 1 to 12; a season may run over the turn of the year
 */
export function turbidityIn({ turbidity, habits }: Pick<WaterHousehold, "turbidity" | "habits">, month: number): Turbidity {
	const { seasonFromMonth: from, seasonUntilMonth: until, seasonTurbidity } = habits ?? {};
	if (from == null || until == null || seasonTurbidity == null) return turbidity;
	const inSeason = from <= until ? month >= from && month <= until : month >= from || month <= until;
	return inSeason ? seasonTurbidity : turbidity;
}

/** @returns days that stored water lasts; Infinity where none is used. @param storedL L of water in all containers */
export function storageDays(storedL: number, litresPerDay: number): number {
	return litresPerDay > 0 ? storedL / litresPerDay : Number.POSITIVE_INFINITY;
}

/** @returns fills of a container in a week, each of which is dosed. @param containerL L, more than 0 */
export function fillsPerWeek(litresPerDay: number, containerL: number): number {
	return (litresPerDay * 7) / containerL;
}

/**
 * Bleach for a week of water.
 *
 * @param week `litresPerDay` L of water a day; `doseMgPerL` 0 to 100 mg/L; `strengthGPerL` 0.1 to 150 g/L as Cl2
 * @returns mL a week, 0 where no water is treated
 * @throws RangeError outside these ranges
 * Source: mL = persons · L a person and day · 7 · dose / (10 · strength in percent).
 */
export function bleachMlPerWeek(week: { litresPerDay: number; doseMgPerL: number; strengthGPerL: number }): number {
	const waterVolumeL = week.litresPerDay * 7;
	return waterVolumeL > 0 ? bleachMl({ ...week, waterVolumeL }) : 0;
}

/** @returns g of available chlorine a day. @param doseMgPerL mg/L as Cl2 */
export const chlorineGramsPerDay = (litresPerDay: number, doseMgPerL: number): number => (litresPerDay * doseMgPerL) / 1000;

/** @returns mg/L that water of a class is dosed with; very turbid water is cleared first and then dosed as cloudy */
export const plannedDoseMgPerL = (turbidity: Turbidity, { doseMgPerL }: Pick<Policy, "doseMgPerL">): number =>
	turbidity === "clear" ? doseMgPerL.clear : doseMgPerL.cloudy;

/** What a volunteer's households need. */
export interface DailyNeed {
	readonly litresPerDay: number;
	readonly chlorineGramsPerDay: number;
	/** Standard deviation of the grams of chlorine of a day; households are taken to differ independently. */
	readonly sd: number;
}

/**
 * What each volunteer's households need a day, in two statements: dosed as their protocols say, or as the programme does where a household
 * was given none, and as many times that as their own readings have told.
 *
 * @param volunteerIds up to 10 000; who has no household isn't among the answers
 * @param atMs the instant whose month decides on the season, by UTC
 * @returns L and g of chlorine a day with its standard deviation, by volunteer
 */
export async function dailyNeed(
	from: Pick<Transaction, "query">,
	volunteerIds: readonly string[],
	atMs: number,
	policy: Policy,
): Promise<ReadonlyMap<string, DailyNeed>> {
	const ids = [...new Set(volunteerIds)];
	if (ids.length === 0) return new Map();
	const { treatedUses, litresPerPersonDay: litres, useRelativeSd } = policy.water;
	const doses = await protocolDoses(from);
	const own = placesOfDoses(doses.length, 10 + ids.length);
	const treated = (use: WaterRules["treatedUses"][number]) => (treatedUses.includes(use) ? 1 : 0);
	const rows = await from.query<{ volunteerId: string; litres: number; grams: number; squares: number }>(
		`SELECT volunteer_id, SUM(litres) AS litres, SUM(litres * dose) AS grams, SUM(litres * dose * litres * dose) AS squares FROM (
			SELECT h.volunteer_id,
				h.persons * (COALESCE(w.drinking_l_per_person_day, ${real(1)}) * ${real(4)} + COALESCE(w.food_l_per_person_day, ${real(2)}) * ${real(5)}
					+ COALESCE(w.hygiene_l_per_person_day, ${real(3)}) * ${real(6)}) AS litres,
				CASE WHEN CASE WHEN w.season_turbidity IS NOT NULL AND ${IN_SEASON} THEN w.season_turbidity ELSE h.turbidity END = 'clear'
					THEN COALESCE(CAST(d.column2 AS double precision), ${real(7)}) * COALESCE(o.clear_times, 1)
					ELSE COALESCE(CAST(d.column3 AS double precision), ${real(8)}) * COALESCE(o.cloudy_times, 1) END AS dose
			FROM household h LEFT JOIN household_water w ON w.household_id = h.id LEFT JOIN household_protocol f ON f.household_id = h.id
				LEFT JOIN household_dose o ON o.household_id = h.id
				LEFT JOIN (${own}) AS d ON d.column1 = f.protocol_version_id WHERE h.volunteer_id IN (${placeholders(ids.length, 10)})
		) AS each_household GROUP BY volunteer_id`,
		[
			...[litres.drinking, litres.food, litres.hygiene],
			...[treated("drinking"), treated("food"), treated("hygiene")],
			...[policy.doseMgPerL.clear / 1000, policy.doseMgPerL.cloudy / 1000],
			new Date(atMs).getUTCMonth() + 1,
			...ids,
			...doses.flatMap(({ id, clearGPerL, cloudyGPerL }) => [id, clearGPerL, cloudyGPerL]),
		],
	);
	return new Map(
		rows.map(({ volunteerId, ...sums }) => [
			volunteerId,
			{ litresPerDay: sums.litres, chlorineGramsPerDay: sums.grams, sd: useRelativeSd * Math.sqrt(sums.squares) },
		]),
	);
}

interface VersionDoses {
	readonly id: string;
	readonly clearGPerL: number;
	readonly cloudyGPerL: number;
}

/** What each protocol that households were given doses with; very turbid water is cleared first and then dosed as cloudy. */
async function protocolDoses(from: Pick<Transaction, "query">): Promise<VersionDoses[]> {
	const versions = await from.query<{ id: string; body: string }>("SELECT id, body FROM protocol_version ORDER BY id");
	return versions.map(({ id, body }) => {
		const mgPerL = (turbidity: Turbidity): number => {
			const planned = plannedDose(JSON.parse(body) as Protocol, { turbidity });
			return planned.kind === "dose" ? planned.mgPerL : 0;
		};
		return { id, clearGPerL: mgPerL("clear") / 1000, cloudyGPerL: mgPerL("cloudy") / 1000 };
	});
}

/** @returns the VALUES of so many versions with their two doses, or one that none has */
function placesOfDoses(count: number, from: number): string {
	if (count === 0) return "VALUES ('-', NULL, NULL)";
	const rows = Array.from({ length: count }, (_, row) => `(${placeholders(3, from + 3 * row)})`);
	return `VALUES ${rows.join(",")}`;
}

const real = (at: number): string => `CAST($${at} AS double precision)`;

const MONTH = "CAST($9 AS integer)";

/** As `turbidityIn` has it. */
const IN_SEASON = `CASE WHEN w.season_from_month <= w.season_until_month
	THEN ${MONTH} >= w.season_from_month AND ${MONTH} <= w.season_until_month
	ELSE ${MONTH} >= w.season_from_month OR ${MONTH} <= w.season_until_month END`;
