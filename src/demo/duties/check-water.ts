import { CHECK_WATER } from "../../water/kinds.js";
import { TARGET_MG_PER_L } from "../doses.js";
import type { TimelineEvent } from "../timeline.js";
import type { Jar } from "../truth.js";
import type { Asked } from "../volunteers.js";
import type { DemoDuty, DemoTask, Seen } from "./duty.js";

/** A household that writes nothing down dosed so long ago, mostly. */
const USUAL_AGE_MS = 8 * 3_600_000;

/** The kit shows what the dose of the water and its hidden demand and decay have left. */
export const checkWater: DemoDuty = {
	kind: CHECK_WATER,

	async asked({ subjectId, brief }, seen): Promise<Asked | undefined> {
		const container = seen.district.containers.find(({ id }) => id === subjectId);
		const household = seen.district.households.find(({ id }) => id === container?.householdId);
		if (!container || !household) return undefined;
		const [dose] = await seen.store.query<{
			batchId: string;
			bleachMl: number;
			moreMl: number;
			waterL: number;
			dosedAtMs: number;
		}>(
			`SELECT d.batch_id, d.bleach_ml, d.water_l, d.dosed_at_ms, COALESCE((SELECT SUM(p.bleach_ml) FROM dose p WHERE p.container_id = d.container_id
			 AND p.ended_because = 'next dose' AND p.ended_at_ms = d.dosed_at_ms), 0) AS more_ml FROM dose d WHERE d.container_id = $1 AND d.state = 'open'`,
			[subjectId],
		);
		const jar = await jarOf(seen, dose?.batchId, household.volunteerId);
		if (!jar) return undefined;
		const again = brief["reason"] === "must" ? 2 : 1;
		const target = household.turbidity === "clear" ? TARGET_MG_PER_L.clear : TARGET_MG_PER_L.cloudy;
		const usual = {
			bleachMl: (again * target * container.volumeL) / jar.madeStrengthGPerL,
			waterL: container.volumeL,
			dosedAtMs: seen.clock.nowMs() - USUAL_AGE_MS,
		};
		const known = dose && { bleachMl: dose.bleachMl + dose.moreMl, waterL: dose.waterL, dosedAtMs: dose.dosedAtMs };
		return { kind: "free chlorine", householdId: household.id, jar, dose: known ?? usual };
	},

	async beforeAnswer(task, seen) {
		return () => changed(task, seen);
	},
};

async function jarOf({ store }: Seen, id: string | undefined, keeperId: string | null): Promise<Jar | undefined> {
	const [jar] = await store.query<Jar & object>(
		`SELECT id, generator_id, area_id, made_at_ms, volume_l, made_strength_g_per_l, salt_g_per_l, ph, wall, exposure, lit_area_m2 FROM batch
		 WHERE ${id ? "id = $1" : "keeper_id = $1 AND state = 'in use'"} ORDER BY made_at_ms DESC LIMIT 1`,
		[id ?? keeperId],
	);
	return jar;
}

async function changed({ id, brief }: DemoTask, { store, clock }: Seen): Promise<TimelineEvent | undefined> {
	const [row] = await store.query<{ outcome: string | null }>("SELECT outcome FROM task WHERE id = $1", [id]);
	const outcome = row?.outcome ? (JSON.parse(row.outcome) as Record<string, unknown>) : undefined;
	if (!outcome || outcome["freeChlorineMgPerL"] === undefined) return undefined;
	const { freeChlorineMgPerL, fitToDrink, bleachMl, action } = outcome;
	const follows = bleachMl === undefined ? String(action) : `${bleachMl} mL more of ${outcome["jar"]}, then read again`;
	return {
		atMs: clock.nowMs(),
		kind: "changed",
		who: String(brief["container"]),
		text: `${freeChlorineMgPerL} mg/L: ${fitToDrink ? "fit to drink" : "not fit"}`,
		why: `${outcome["protocol"]}, band ${outcome["band"]}: ${follows}`,
	};
}
