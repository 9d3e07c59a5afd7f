import { carePlan } from "../generators/care-plan.js";
import { CARE } from "../generators/due-kinds.js";
import { generatorFacts } from "../generators/generator-facts.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import type { Moment } from "./kind.js";
import { withdrawTasks } from "./withdraw.js";

/** Closes the open task for a generator's care where nothing is due any more after what was done. */
export async function withdrawSettledCare(
	tx: Transaction,
	ids: Ids,
	generatorId: string,
	moment: Moment,
	over: { readonly because: string; readonly actor: string },
): Promise<void> {
	const { nowMs, policy } = moment;
	const facts = (await generatorFacts(tx, [generatorId], policy.generators.testWithinHours)).get(generatorId);
	if (!facts || carePlan(facts, policy.generators, nowMs).items.some(({ dueAtMs }) => dueAtMs <= nowMs)) return;
	const { because, actor } = over;
	await withdrawTasks(tx, ids, { kind: CARE, subjectIds: [generatorId], evidence: { because }, actor, nowMs });
}
