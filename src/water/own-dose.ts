import { Entity, ForeignKey } from "typeorm";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import { HouseholdRow } from "../programme/rows.js";
import { PLANNED_DOSE_MG_PER_L } from "../science/dose-answer.js";
import { ownDoseTimes } from "../science/own-dose.js";
import { householdsChanged } from "../stock/due-work.js";
import { IdColumn, InstantColumn, RealColumn } from "../store/columns.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { type KnownContainer, waterNow } from "./containers.js";
import { dayToDayBelief } from "./household-belief.js";
import { guideline } from "./protocol/guideline.js";
import type { Protocol } from "./protocol/protocol.js";
import { doseTimesOf, plannedDose } from "./protocol-dose.js";

/** How many times its protocol's dose a household's water takes, by its own readings. */
@Entity("household_dose")
export class HouseholdDoseRow {
	@ForeignKey(() => HouseholdRow) @IdColumn() householdId!: string;
	@RealColumn() clearTimes!: number;
	@RealColumn() cloudyTimes!: number;
	@InstantColumn() changedAtMs!: number;
}

/** What a household gives from now on. */
export interface OwnDose {
	readonly household: string;
	readonly times: number;
}

/**
 * Looks after a reading that counted whether a household's water takes another dose than it gives, by the programme's rules.
 * @returns what it gives from now on; nothing where that is as it was
 */
export async function ownDoseAfterReading(
	tx: Transaction,
	ids: Ids,
	container: KnownContainer,
	protocol: Protocol,
	{ policy, nowMs, actor }: { readonly policy: Policy; readonly nowMs: number; readonly actor: string },
): Promise<OwnDose | undefined> {
	const { ownDose, refillHours, leastAtUseMgPerL } = policy.water;
	// Where people wait for a reading before they drink, each fill is put right by its own.
	if (ownDose === null || protocol.drinkFrom !== "contactTime") return undefined;
	const water = waterNow(container, nowMs);
	const planned = plannedDose(protocol, water);
	if (planned.kind !== "dose") return undefined;
	const { belief, readings, lastDoseMgPerL } = await dayToDayBelief(tx, container, nowMs);
	if (readings < ownDose.leastReadings) return undefined;
	const times = ownDoseTimes({
		belief,
		plannedMgPerL: givenMgPerL(planned.mgPerL, lastDoseMgPerL, doseTimesOf(container, water)),
		temperatureC: water.temperatureC,
		hours: container.habits.refillEveryHours ?? refillHours,
		leastMgPerL: leastAtUseMgPerL,
		mostMgPerL: guideline.mostMgPerL,
		tolerance: ownDose.toleratedChance,
		mostTimes: ownDose.mostTimes,
	});
	if (times === doseTimesOf(container, water)) return undefined;
	const isClear = water.turbidity === "clear";
	const kept = { ...container.doseTimes, [isClear ? "clear" : "cloudy"]: times };
	await tx.insert(
		"household_dose",
		["household_id", "clear_times", "cloudy_times", "changed_at_ms"],
		[[container.householdId, kept.clear, kept.cloudy, nowMs]],
		`ON CONFLICT (household_id) DO UPDATE SET clear_times = excluded.clear_times, cloudy_times = excluded.cloudy_times,
			changed_at_ms = excluded.changed_at_ms`,
	);
	// Its volunteer needs another amount of bleach.
	await householdsChanged(tx, [container.householdId], nowMs);
	await record(tx, ids, [
		{
			...{ atMs: nowMs, actor, action: "household's own dose set", subjectKind: "household", subjectId: container.householdId },
			areaId: container.areaId,
			detail: { turbidity: water.turbidity, times, readings, demandMgPerL: belief.demandMgPerL },
		},
	]);
	return { household: container.householdCode, times };
}

/** A margin for weak bleach, and the measure's steps, make of the planned dose what is really given: as the last one shows. */
function givenMgPerL(plannedMgPerL: number, lastDoseMgPerL: number | undefined, times: number): number {
	const share = (lastDoseMgPerL ?? plannedMgPerL * times) / (plannedMgPerL * times);
	const { least, most } = PLANNED_DOSE_MG_PER_L;
	return Math.min(most, Math.max(least, plannedMgPerL * Math.min(MOST_SHARE, Math.max(1, share))));
}

/** A last dose that is further off tells of a slip, not of what is given. Own choice. */
const MOST_SHARE = 1.5;
