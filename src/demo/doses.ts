import type { AreaRow, ContainerRow, HouseholdRow } from "../programme/rows.js";
import { rounded } from "../science/rounded.js";
import type { BatchRow } from "../stock/rows.js";
import { HOUR_MS } from "../time/clock.js";
import type { DoseRow } from "../water/rows.js";
import { HISTORY_DAYS } from "./days.js";
import { around, between, drawsFor, happens } from "./draws.js";
import type { Homes, WaterTruth } from "./households.js";
import type { Knowing, Making } from "./making.js";
import { expectedOf } from "./truth.js";

/** mg/L for clear and for cloudy water. Source: Lantagne 2008, J. AWWA 100(8):106-119. */
export const TARGET_MG_PER_L = { clear: 1.875, cloudy: 3.75 } as const;
const SYRINGE_STEP_ML = 0.5;
/** A jar that was filled today is carried home first. */
const READY_AFTER_MS = 3 * HOUR_MS;
const MISSED_SHARE = 0.08;

/** @returns the jar that a volunteer gives out at an instant: the newest; none before the first */
export function jarInUse(jars: readonly BatchRow[], volunteerId: string | null, atMs: number): BatchRow | undefined {
	return jars.findLast((jar) => jar.keeperId === volunteerId && jar.madeAtMs + READY_AFTER_MS <= atMs);
}

/** @returns bleach to the syringe's step, mL, and the dose it stands for by what is expected of the jar, mg/L */
export function measuredDose(
	{ areas, strengthAt }: Knowing,
	jar: BatchRow,
	household: Pick<HouseholdRow, "turbidity">,
	waterL: number,
	atMs: number,
): Pick<DoseRow, "bleachMl" | "doseMgPerL"> {
	const strengthGPerL = strengthAt(jar, areas.get(jar.areaId) as AreaRow, expectedOf(jar), atMs);
	const targetMgPerL = household.turbidity === "clear" ? TARGET_MG_PER_L.clear : TARGET_MG_PER_L.cloudy;
	const bleachMl = Math.round((targetMgPerL * waterL) / strengthGPerL / SYRINGE_STEP_ML) * SYRINGE_STEP_ML;
	return { bleachMl, doseMgPerL: rounded((bleachMl * strengthGPerL) / waterL, 3) };
}

/** @returns the doses of the households that write them down, about one every day or every other day, the oldest first */
export function dosesOf(making: Making, jars: readonly BatchRow[], homes: Homes): DoseRow[] {
	const { start, days, newId } = making;
	const doses: Omit<DoseRow, "id">[] = [];
	for (const household of homes.households) {
		const truth = homes.water[household.id] as WaterTruth;
		if (!truth.recorded) continue;
		const draws = drawsFor(start, "doses", household.code);
		const vessels = homes.containers.filter(({ householdId }) => householdId === household.id);
		const { everyDays, treated } = habitOf(household, truth, vessels);
		const minuteOfDay = happens(draws, 0.65) ? 6 * 60 + 30 : 17 * 60 + 30;
		for (let day = HISTORY_DAYS - draws.below(everyDays); day >= 1; day -= everyDays) {
			if (happens(draws, MISSED_SHARE)) continue;
			for (const vessel of treated) {
				const dosedAtMs = days.instant(day, minuteOfDay + between(draws, -40, 40));
				const jar = jarInUse(jars, household.volunteerId, dosedAtMs);
				if (!jar) continue;
				const waterL = Math.min(vessel.volumeL, Math.round(around(draws, vessel.volumeL * 0.95, 0.04)));
				const measured = measuredDose(making, jar, household, waterL, dosedAtMs);
				doses.push({ containerId: vessel.id, batchId: jar.id, dosedAtMs, waterL, ...measured });
			}
		}
	}
	doses.sort((a, b) => a.dosedAtMs - b.dosedAtMs);
	return doses.map((dose) => ({ id: newId(dose.dosedAtMs), ...dose }));
}

/** How often a household treats water, and which of its containers, to have what it wants. */
function habitOf(
	household: HouseholdRow,
	truth: WaterTruth,
	vessels: readonly ContainerRow[],
): { everyDays: number; treated: readonly ContainerRow[] } {
	const wantedLPerDay = household.persons * truth.treatedLPerPersonPerDay;
	const first = vessels.slice(0, 1);
	const firstL = first[0]?.volumeL ?? 0;
	if (wantedLPerDay > 1.3 * firstL) return { everyDays: 1, treated: vessels };
	return { everyDays: wantedLPerDay < 0.7 * firstL ? 2 : 1, treated: first };
}
