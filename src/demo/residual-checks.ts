import type { AreaRow, ContainerRow, HouseholdRow, PersonRow } from "../programme/rows.js";
import { rounded } from "../science/rounded.js";
import type { BatchRow } from "../stock/rows.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import type { Randomness } from "../time/randomness.js";
import type { DoseRow, ResidualCheckRow } from "../water/rows.js";
import { type DaysBefore, HISTORY_DAYS } from "./days.js";
import { jarInUse, measuredDose } from "./doses.js";
import { around, between, drawsFor, happens } from "./draws.js";
import type { Homes, WaterTruth } from "./households.js";
import type { Knowing, Making } from "./making.js";
import { type Jar, jarTruth } from "./truth.js";

/** Older treated water has been drunk or poured out: there is nothing to check. */
const DRUNK_AFTER_MS = 26 * HOUR_MS;
const VISITED_SHARE = 0.85;
const TIME_UNKNOWN_SHARE = 0.06;

/**
 * Free chlorine in stored water.
 *
 * C = (dose - demand)·e^(-k·(t - 0.5 h)), never below 0; in the first half hour the demand is met evenly.
 *
 * @param doseMgPerL what really went in, at least 0
 * @param hours since the dose, at least 0
 * @returns mg/L as Cl2
 *
 * Source: first-order decay after a 30 min demand, as household studies fit it (e.g. Wu & Dorea 2020, Water 12:1506).
 */
export function freeChlorineMgPerL(
	doseMgPerL: number,
	water: Pick<WaterTruth, "demandMgPerL" | "decayPerHour">,
	hours: number,
): number {
	const met = Math.min(1, hours / 0.5) * water.demandMgPerL;
	return Math.max(0, doseMgPerL - met) * Math.exp(-water.decayPerHour * Math.max(0, hours - 0.5));
}

/** @returns what a household's kit shows: to 0.1 mg/L up to 1, to 0.5 above */
export function residualReadingMgPerL(draws: Randomness, trueMgPerL: number): number {
	const shown = around(draws, trueMgPerL, 0.12);
	return shown < 1 ? rounded(shown, 1) : Math.round(shown * 2) / 2;
}

/** @returns what a measured volume of a jar really brought into the water, mg/L */
export function trueDoseMgPerL(
	{ start, areas, strengthAt }: Knowing,
	jar: Jar,
	dose: Pick<DoseRow, "bleachMl" | "waterL" | "dosedAtMs">,
): number {
	const strengthGPerL = strengthAt(jar, areas.get(jar.areaId) as AreaRow, jarTruth(start, jar), dose.dosedAtMs);
	return (dose.bleachMl * strengthGPerL) / dose.waterL;
}

/** @returns the checks before the start: weekly where doses are written down, now and then elsewhere, the oldest first */
export function residualChecksOf(
	making: Making,
	jars: readonly BatchRow[],
	homes: Homes,
	volunteers: readonly PersonRow[],
	doses: readonly DoseRow[],
): ResidualCheckRow[] {
	const { start, days, newId } = making;
	const checks: Omit<ResidualCheckRow, "id">[] = [];
	for (const household of homes.households) {
		if (household.turbidity === "very turbid") continue;
		const truth = homes.water[household.id] as WaterTruth;
		const volunteer = volunteers.find(({ id }) => id === household.volunteerId);
		const vessel = homes.containers.find(({ householdId }) => householdId === household.id);
		if (!volunteer || !vessel) continue;
		const draws = drawsFor(start, "visits", household.code);
		for (let week = 0; week < HISTORY_DAYS / 7; week++) {
			if (!happens(draws, truth.recorded ? VISITED_SHARE : 0.25)) continue;
			const checkedAtMs = days.instant(visitDay(draws, days, volunteer, week), between(draws, 8.5 * 60, 17 * 60));
			const dose = truth.recorded
				? doses.findLast(({ containerId, dosedAtMs }) => containerId === vessel.id && dosedAtMs <= checkedAtMs)
				: unwritten(making, draws, jars, household, vessel, checkedAtMs);
			const jar = dose && jars.find(({ id }) => id === dose.batchId);
			const check = jar && checkOf(making, draws, jar, dose, truth, checkedAtMs);
			if (check) checks.push({ ...check, checkerId: volunteer.id });
		}
	}
	checks.sort((a, b) => a.checkedAtMs - b.checkedAtMs);
	return checks.map((check) => ({ id: newId(check.checkedAtMs), ...check }));
}

/** @returns a day of the week that the volunteer works, counted back from the start */
function visitDay(draws: Randomness, days: DaysBefore, volunteer: PersonRow, week: number): number {
	const worked = [1, 2, 3, 4, 5, 6, 7]
		.map((day) => week * 7 + day)
		.filter((day) => volunteer.workingDays.includes(weekdayOf(days.instant(day, 12 * 60))));
	return draws.pick(worked);
}

/** ISO weekday of an instant near local noon; 1970-01-01 was a Thursday. */
function weekdayOf(noonMs: number): number {
	return ((Math.floor(noonMs / DAY_MS) + 3) % 7) + 1;
}

/** Households that write nothing down dose too, mostly. */
function unwritten(
	making: Making,
	draws: Randomness,
	jars: readonly BatchRow[],
	household: HouseholdRow,
	vessel: ContainerRow,
	checkedAtMs: number,
): Omit<DoseRow, "id"> | undefined {
	const dosedAtMs = Math.round(checkedAtMs - between(draws, 1, 24) * HOUR_MS);
	const jar = jarInUse(jars, household.volunteerId, dosedAtMs);
	if (!jar) return undefined;
	const measured = measuredDose(making, jar, household, vessel.volumeL, dosedAtMs);
	const bleachMl = happens(draws, 0.1) ? 0 : measured.bleachMl;
	return { containerId: vessel.id, batchId: jar.id, dosedAtMs, waterL: vessel.volumeL, ...measured, bleachMl };
}

function checkOf(
	making: Making,
	draws: Randomness,
	jar: BatchRow,
	dose: Omit<DoseRow, "id">,
	truth: WaterTruth,
	checkedAtMs: number,
): Omit<ResidualCheckRow, "id" | "checkerId"> | undefined {
	const agoMs = checkedAtMs - dose.dosedAtMs;
	if (agoMs > DRUNK_AFTER_MS || agoMs < HOUR_MS) return undefined;
	// The water of a household isn't the same every day.
	const water = { ...truth, demandMgPerL: around(draws, truth.demandMgPerL, 0.2) };
	const trueMgPerL = freeChlorineMgPerL(trueDoseMgPerL(making, jar, dose), water, agoMs / HOUR_MS);
	return {
		containerId: dose.containerId,
		checkedAtMs,
		freeChlorineMgPerL: residualReadingMgPerL(draws, trueMgPerL),
		hoursSinceDose: truth.recorded && !happens(draws, TIME_UNKNOWN_SHARE) ? Math.round((agoMs / HOUR_MS) * 2) / 2 : null,
	};
}
