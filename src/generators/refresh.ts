import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { batteryFacts } from "./battery-facts.js";
import { plannedCheck } from "./battery-state.js";
import { carePlan } from "./care-plan.js";
import { CARE, CHECK_BATTERY } from "./due-kinds.js";
import { generatorFacts } from "./generator-facts.js";

interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

/** Reckons anew when generators are next cared for, and their batteries looked at, in the unit of work that changed a fact. */
export async function refreshGenerators(tx: Transaction, ids: readonly string[], { nowMs, policy }: Moment): Promise<void> {
	for (let from = 0; from < ids.length; from += PAGE) {
		const page = ids.slice(from, from + PAGE);
		const facts = await generatorFacts(tx, page, policy.generators.testWithinHours);
		await setDue(
			tx,
			[...facts.values()].map((of) => ({
				kind: CARE,
				subjectId: of.generator.id,
				areaId: of.generator.areaId,
				dueAtMs: of.generator.inService ? (carePlan(of, policy.generators, nowMs).items[0]?.dueAtMs ?? null) : null,
			})),
		);
		const batteries = await tx.query<{ id: string }>(
			`SELECT id FROM battery WHERE in_use AND generator_id IN (${placeholders(page.length)})`,
			page,
		);
		await refreshBatteries(
			tx,
			batteries.map(({ id }) => id),
			{ nowMs, policy },
		);
	}
}

const PAGE = 200;

/** Reckons anew when batteries are next looked at. */
export async function refreshBatteries(tx: Transaction, ids: readonly string[], { nowMs, policy }: Moment): Promise<void> {
	for (let from = 0; from < ids.length; from += PAGE) {
		const facts = await batteryFacts(tx, ids.slice(from, from + PAGE));
		await setDue(
			tx,
			[...facts.values()].map((of) => ({
				kind: CHECK_BATTERY,
				subjectId: of.battery.id,
				areaId: of.battery.areaId,
				dueAtMs: plannedCheck(of, policy.generators.battery, nowMs)?.dueAtMs ?? null,
			})),
		);
	}
}
