import { RUN_AGAIN } from "../generators/due-kinds.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

// Kinds of work of this room, by the names that are kept in rows. Whoever changes a fact marks what hangs on it as due: the next sweep
// reckons the instant anew for all that was marked, in a few statements, and moves it to where it belongs.

/** Subject: the jar. */
export const RETEST = "retest stored bleach";
/** Subject: the volunteer. */
export const COLLECT = "collect bleach";
/** Subject: the generator. */
export const MAKE = "make bleach";
/** Subject: the jar. */
export const DISCARD = "discard jar";
/** Subject: the stock item. */
export const REPLENISH = "replenish item";

const PAGE = 500;

/** Marks what hangs on the contents and places of jars: their keepers' stock, their production points', and their own work where they are empty. */
export async function stockChanged(tx: Transaction, jarIds: readonly string[], nowMs: number): Promise<void> {
	for (let from = 0; from < jarIds.length; from += PAGE) {
		const page = jarIds.slice(from, from + PAGE);
		const jars = await tx.query<{ keeperId: string | null; generatorId: string | null }>(
			`SELECT DISTINCT keeper_id, CASE WHEN keeper_id IS NULL AND household_id IS NULL THEN generator_id END AS generator_id
			 FROM batch WHERE id IN (${placeholders(page.length)})`,
			page,
		);
		await needChanged(
			tx,
			jars.flatMap(({ keeperId }) => keeperId ?? []),
			nowMs,
		);
		const points = [...new Set(jars.flatMap(({ generatorId }) => generatorId ?? []))];
		await productionChanged(tx, points, nowMs);
		await askedAgain(tx, points, nowMs);
		await runsLookedAt(tx, page, nowMs);
		await tx.affected(
			`UPDATE due SET due_at_ms = $1 WHERE kind IN ($2, $3) AND subject_id IN (
				SELECT id FROM batch WHERE state IN ('empty', 'discarded') AND id IN (${placeholders(page.length, 4)}))`,
			[nowMs, RETEST, DISCARD, ...page],
		);
	}
}

/** A weak batch that is to be run on may have been drawn off by now: the sweep looks whether that is still work. */
async function runsLookedAt(tx: Transaction, jarIds: readonly string[], nowMs: number): Promise<void> {
	await tx.affected(
		`UPDATE due SET due_at_ms = $1 WHERE kind = $2 AND subject_id IN (SELECT r.id FROM generator_run r WHERE r.batch_id IN (${placeholders(jarIds.length, 3)})
			AND EXISTS (SELECT 1 FROM task t WHERE t.kind = $2 AND t.subject_id = r.id AND t.state = 'open'))`,
		[nowMs, RUN_AGAIN, ...jarIds],
	);
}

/** Whoever waits for bleach of a point, or was asked to fetch it, is looked at again when something has changed there. */
async function askedAgain(tx: Transaction, generatorIds: readonly string[], nowMs: number): Promise<void> {
	if (generatorIds.length === 0) return;
	await tx.affected(
		`UPDATE due SET due_at_ms = $1 WHERE kind = $2 AND (due_at_ms > $1 OR due_at_ms IS NULL) AND subject_id IN (
			SELECT w.volunteer_id FROM bleach_want w WHERE w.want_at_ms <= $1 AND w.generator_id IN (${placeholders(generatorIds.length, 3)}))
		 AND (due_at_ms IS NOT NULL OR EXISTS (SELECT 1 FROM task t WHERE t.kind = $2 AND t.subject_id = due.subject_id AND t.state = 'open'))`,
		[nowMs, COLLECT, ...generatorIds],
	);
}

/** Marks volunteers whose stock or whose households' need has changed. Who has no household needs no bleach. */
export async function needChanged(tx: Transaction, volunteerIds: readonly string[], nowMs: number): Promise<void> {
	const ids = [...new Set(volunteerIds)];
	for (let from = 0; from < ids.length; from += PAGE) {
		const page = ids.slice(from, from + PAGE);
		await tx.affected(
			`INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle)
			 SELECT $1, p.id, p.area_id, CAST($2 AS bigint), 1 FROM person p WHERE p.id IN (${placeholders(page.length, 3)}) AND (
				EXISTS (SELECT 1 FROM household h WHERE h.volunteer_id = p.id) OR EXISTS (SELECT 1 FROM due d WHERE d.kind = $1 AND d.subject_id = p.id))
			 ON CONFLICT (kind, subject_id) DO UPDATE SET due_at_ms = excluded.due_at_ms, area_id = excluded.area_id`,
			[COLLECT, nowMs, ...page],
		);
	}
}

/** Marks generators whose production has to be planned anew. */
export async function productionChanged(tx: Transaction, generatorIds: readonly string[], nowMs: number): Promise<void> {
	const ids = [...new Set(generatorIds)];
	for (let from = 0; from < ids.length; from += PAGE) {
		const page = ids.slice(from, from + PAGE);
		await tx.affected(
			`INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle)
			 SELECT $1, g.id, g.area_id, CAST($2 AS bigint), 1 FROM generator g WHERE g.id IN (${placeholders(page.length, 3)})
			 ON CONFLICT (kind, subject_id) DO UPDATE SET due_at_ms = excluded.due_at_ms, area_id = excluded.area_id`,
			[MAKE, nowMs, ...page],
		);
	}
}

/** Marks a generator that goes out of service or comes back, and those whose plans it may take work from or give work to. */
export async function serviceChanged(tx: Transaction, generatorId: string, nowMs: number): Promise<void> {
	const planned = await tx.query<{ generatorId: string }>("SELECT generator_id FROM production_plan WHERE ended_at_ms IS NULL");
	await productionChanged(tx, [generatorId, ...planned.map((plan) => plan.generatorId)], nowMs);
}

/** Marks the volunteers of households that were put on file, assigned or changed; whoever looked after one before is for the caller to mark. */
export async function householdsChanged(tx: Transaction, householdIds: readonly string[], nowMs: number): Promise<void> {
	for (let from = 0; from < householdIds.length; from += PAGE) {
		const page = householdIds.slice(from, from + PAGE);
		const rows = await tx.query<{ volunteerId: string }>(
			`SELECT DISTINCT volunteer_id FROM household WHERE volunteer_id IS NOT NULL AND id IN (${placeholders(page.length)})`,
			page,
		);
		await needChanged(
			tx,
			rows.map(({ volunteerId }) => volunteerId),
			nowMs,
		);
	}
}

/** Marks every stock and every plan: the programme's rules have changed. The next sweeps reckon them anew, a page at a time. */
export async function allReckonedAnew(tx: Transaction, nowMs: number): Promise<void> {
	await tx.affected("UPDATE due SET due_at_ms = $1 WHERE kind IN ($2, $3)", [nowMs, COLLECT, MAKE]);
}
