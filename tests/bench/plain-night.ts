import { placeholders, valuesOf } from "../../src/store/sql.js";
import type { Store } from "../../src/store/store.js";
import type { Transaction } from "../../src/store/unit-of-work.js";

interface DueItem {
	readonly kind: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly dueAtMs: number;
	readonly cycle: number;
	readonly code: string;
	readonly personId: string;
	readonly volumeL: number;
	readonly householdCode: string | null;
	readonly forecast: string | null;
}

let written = 0;

/**
 * The bare work of a night: what is due found by one indexed query with the facts that it is decided by, decided in a bare loop, and
 * written with its outbox rows and ledger entries, grouped by subject, by statements of 250 rows. Nothing is checked that could be wrong:
 * nobody else sweeps, no code is taken, nobody has left, everybody may be written to.
 * @returns ms
 */
export async function plainNightMs(store: Store, expected: number): Promise<number> {
	const began = performance.now();
	const nowMs = Date.now();
	const due = await store.query<DueItem>(
		`SELECT d.kind, d.subject_id, d.area_id, d.due_at_ms, d.cycle, COALESCE(c.code, b.code) AS code, COALESCE(h.volunteer_id, b.keeper_id) AS person_id,
			COALESCE(c.volume_l, b.volume_l) AS volume_l, h.code AS household_code, b.forecast
		 FROM due d LEFT JOIN container c ON c.id = d.subject_id LEFT JOIN household h ON h.id = c.household_id LEFT JOIN batch b ON b.id = d.subject_id
		 WHERE d.due_at_ms <= $1 ORDER BY d.kind, d.subject_id`,
		[nowMs],
	);
	if (due.length !== expected) throw new Error(`${due.length} were due instead of ${expected}`);
	const decided = due.map((item) => ({ item, id: `plain${++written}`, brief: JSON.stringify(briefOf(item)) }));
	for (let from = 0; from < decided.length; from += 250) {
		const page = decided.slice(from, from + 250);
		await store.work.run((tx) => write(tx, page, nowMs));
	}
	return performance.now() - began;
}

function briefOf({ code, dueAtMs, volumeL, householdCode, forecast }: DueItem): Record<string, string | number> {
	if (forecast === null)
		return {
			container: code,
			household: householdCode as string,
			reason: "turn",
			volumeL,
			waitMinutes: 0,
			doseMgPerL: 0,
			hours: 0,
			chancePercent: 0,
			leastMgPerL: 0.2,
			intervalDays: 14,
		};
	const { atRetest, nextDilution } = JSON.parse(forecast);
	return {
		jar: code,
		days: Math.round(dueAtMs / 86_400_000),
		chancePercent: Math.round(atRetest.chanceUnderLimit * 100),
		reason: "chance",
		strengthGPerL: atRetest.medianGPerL,
		lowGPerL: atRetest.lowGPerL,
		highGPerL: atRetest.highGPerL,
		limitGPerL: 3.5,
		sampleMl: nextDilution.sampleMl,
		waterL: nextDilution.madeUpToL,
		kit: "comparator 0-5",
		scale: "0, 1, 2, 3, 4, 5+",
	};
}

async function write(
	tx: Transaction,
	page: readonly { item: DueItem; id: string; brief: string }[],
	nowMs: number,
): Promise<void> {
	const tasks = valuesOf(
		page.map(({ item, id, brief }) => [
			...[id, id, item.kind, item.subjectId, item.cycle, item.areaId, item.personId, "open"],
			...[item.dueAtMs, nowMs, brief, 0, nowMs + 86_400_000],
		]),
	);
	await tx.affected(
		`INSERT INTO task (id, code, kind, subject_id, cycle, area_id, assignee_id, state, due_at_ms, opened_at_ms, brief, ladder_step, next_step_at_ms) VALUES ${tasks.text}`,
		tasks.parameters,
	);
	const messages = valuesOf(
		page.map(({ item, id, brief }) => [id, id, id, item.personId, "retest.first", brief, false, "waiting", nowMs, nowMs, 0, 0]),
	);
	await tx.affected(
		`INSERT INTO message (id, idempotency_key, task_id, recipient_id, text, fill, urgent, state, created_at_ms, next_try_at_ms, claim, tries) VALUES ${messages.text}`,
		messages.parameters,
	);
	const entries = valuesOf(
		page.map(({ item, id, brief }) => [id, nowMs, "sweep", "task opened", "task", id, item.areaId, brief]),
	);
	await tx.affected(
		`INSERT INTO ledger_entry (id, at_ms, actor, action, subject_kind, subject_id, area_id, detail) VALUES ${entries.text}`,
		entries.parameters,
	);
	for (const kind of new Set(page.map(({ item }) => item.kind))) {
		const ids = page.filter(({ item }) => item.kind === kind).map(({ item }) => item.subjectId);
		await tx.affected(`UPDATE due SET due_at_ms = NULL WHERE kind = $1 AND subject_id IN (${placeholders(ids.length, 2)})`, [
			kind,
			...ids,
		]);
	}
}
