import { type GeneratorAvailability, generatorAvailability, generatorsInReach } from "../generators/availability.js";
import type { Policy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { REPLENISH } from "./due-work.js";
import { heldJars } from "./holdings.js";
import { type ProductionPlan, productionPlan, type Want } from "./production-plan.js";

/** A plan with the generator that it is for. */
export interface Planned {
	readonly generator: GeneratorAvailability;
	readonly plan: ProductionPlan;
	/** Where it is out of service: who makes it instead; none can be reached. */
	readonly insteadOf: GeneratorAvailability | null;
	/** Codes of generators out of service whose wants are served too. */
	readonly alsoFor: readonly string[];
}

type Reader = Pick<Transaction, "query">;

/**
 * Plans what generators are to make. One that is out of service makes nothing: the nearest that works and can be reached plans for it too.
 * @returns by generator
 */
export async function plansOf(
	from: Reader,
	generatorIds: readonly string[],
	policy: Policy,
	nowMs: number,
): Promise<ReadonlyMap<string, Planned>> {
	const generators = await named(from, generatorIds);
	const outOfService = await movedFrom(from, generators);
	const points = [...new Set([...generatorIds, ...outOfService.map(({ from: { generatorId } }) => generatorId)])];
	const wants = await wantsOf(from, points);
	const jars = await heldJars(from, "point", points);
	const planned = new Map<string, Planned>();
	for (const generator of generators) {
		const also = outOfService.filter(({ to }) => to?.generatorId === generator.generatorId).map(({ from: out }) => out);
		const served = new Set([generator, ...also].map(({ generatorId }) => generatorId));
		const plan = productionPlan(
			wants.filter(({ generatorId }) => served.has(generatorId)),
			jars.filter(({ generatorId }) => served.has(generatorId as string)),
			generator,
			nowMs,
			policy,
		);
		const insteadOf = outOfService.find(({ from: out }) => out.generatorId === generator.generatorId)?.to ?? null;
		planned.set(generator.generatorId, { generator, plan, insteadOf, alsoFor: also.map(({ code }) => code) });
	}
	return planned;
}

async function named(from: Reader, ids: readonly string[]): Promise<GeneratorAvailability[]> {
	const distinct = [...new Set(ids)];
	if (distinct.length === 0) return [];
	const areas = await from.query<{ areaId: string }>(
		`SELECT DISTINCT area_id FROM generator WHERE id IN (${placeholders(distinct.length)})`,
		distinct,
	);
	const all = await generatorAvailability(
		from,
		areas.map(({ areaId }) => areaId),
	);
	return all.filter(({ generatorId }) => distinct.includes(generatorId));
}

/** Every generator out of service that somebody wants bleach of, with the one that makes it instead. */
async function movedFrom(
	from: Reader,
	planned: readonly GeneratorAvailability[],
): Promise<{ from: GeneratorAvailability; to: GeneratorAvailability | null }[]> {
	const out = await from.query<{ id: string }>(
		"SELECT g.id FROM generator g WHERE NOT g.in_service AND EXISTS (SELECT 1 FROM bleach_want w WHERE w.generator_id = g.id)",
	);
	const ids = new Set([
		...out.map(({ id }) => id),
		...planned.filter(({ inService }) => !inService).map(({ generatorId }) => generatorId),
	]);
	const moved: { from: GeneratorAvailability; to: GeneratorAvailability | null }[] = [];
	for (const generator of await named(from, [...ids]))
		moved.push({ from: generator, to: (await generatorsInReach(from, generator))[0] ?? null });
	return moved;
}

async function wantsOf(from: Reader, generatorIds: readonly string[]): Promise<(Want & { generatorId: string })[]> {
	if (generatorIds.length === 0) return [];
	return from.query<Want & { generatorId: string }>(
		`SELECT volunteer_id, generator_id, want_at_ms, volume_ml, chlorine_g_per_day, out_at_ms FROM bleach_want
		 WHERE want_at_ms IS NOT NULL AND generator_id IN (${placeholders(generatorIds.length)})`,
		generatorIds,
	);
}

/** Keeps plans as they are reckoned now: one for each generator, until it is made or nothing is needed any more. */
export async function keepPlans(tx: Transaction, ids: Ids, planned: readonly Planned[], nowMs: number): Promise<void> {
	for (const { generator, plan, insteadOf } of planned) {
		const body = JSON.stringify(plan);
		if (plan.runs === 0 || insteadOf) {
			await endPlan(tx, generator.generatorId, insteadOf ? "planned anew" : "nothing is needed", nowMs);
			continue;
		}
		await tx.affected(
			`INSERT INTO production_plan (id, generator_id, area_id, planned_at_ms, by_ms, runs, litres, plan) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
			 ON CONFLICT (generator_id) WHERE ended_at_ms IS NULL DO UPDATE SET planned_at_ms = excluded.planned_at_ms, by_ms = excluded.by_ms,
				runs = excluded.runs, litres = excluded.litres, plan = excluded.plan`,
			[ids.next(), generator.generatorId, generator.areaId, nowMs, plan.byMs, plan.runs, plan.litres, body],
		);
	}
	await saltWanted(
		tx,
		planned.map(({ generator }) => generator.generatorId),
		nowMs,
	);
}

export async function endPlan(
	tx: Transaction,
	generatorId: string,
	because: "made" | "planned anew" | "nothing is needed",
	nowMs: number,
): Promise<void> {
	await tx.affected(
		"UPDATE production_plan SET ended_at_ms = $2, ended_because = $3 WHERE generator_id = $1 AND ended_at_ms IS NULL",
		[generatorId, nowMs, because],
	);
}

/** Salt at generators is got by what their plans take of it: it is looked at anew. */
async function saltWanted(tx: Transaction, generatorIds: readonly string[], nowMs: number): Promise<void> {
	if (generatorIds.length === 0) return;
	await tx.affected(
		`UPDATE due SET due_at_ms = $1 WHERE kind = $2 AND subject_id IN (
			SELECT id FROM stock_item WHERE kind = 'salt' AND generator_id IN (${placeholders(generatorIds.length, 3)}))`,
		[nowMs, REPLENISH, ...generatorIds],
	);
}
