import { Entity, ForeignKey, Index, PrimaryColumn } from "typeorm";
import { InstantColumn, optional, TextColumn, WholeColumn } from "../store/columns.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { AreaRow } from "./rows.js";

/**
 * When something next becomes due: one row for each kind of work and subject, written when a fact changes.
 * No instant: nothing is due until another fact comes in, usually because a task is open for it.
 */
@Entity("due")
@Index("due_at", ["dueAtMs"], { where: "due_at_ms IS NOT NULL" })
export class DueRow {
	@PrimaryColumn({ type: "text" }) kind!: string;
	@PrimaryColumn({ type: "text" }) subjectId!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@InstantColumn(optional) dueAtMs!: number | null;
	/** Counts how often it has been due; (kind, subject, cycle) names a task for good. */
	@WholeColumn() cycle!: number;
}

export interface NextDue {
	readonly kind: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly dueAtMs: number | null;
}

/**
 * Sets when subjects are next due; the cycle moves on by one where `closing` says that a task for it has ended.
 */
export async function setDue(tx: Transaction, next: readonly NextDue[], closing = false): Promise<void> {
	await tx.insert(
		"due",
		["kind", "subject_id", "area_id", "due_at_ms", "cycle"],
		next.map((n) => [n.kind, n.subjectId, n.areaId, n.dueAtMs, 1]),
		`ON CONFLICT (kind, subject_id) DO UPDATE SET due_at_ms = excluded.due_at_ms, area_id = excluded.area_id${closing ? ", cycle = due.cycle + 1" : ""}`,
	);
}

/** Makes subjects due at once, wherever they are in their cycle. The table that holds them has their areas. */
export async function dueNow(
	tx: Transaction,
	kind: string,
	table: "batch" | "household" | "generator" | "person",
	ids: readonly string[],
	nowMs: number,
): Promise<void> {
	for (let from = 0; from < ids.length; from += 500) {
		const page = ids.slice(from, from + 500);
		const rows = await tx.query<{ id: string; areaId: string }>(
			`SELECT id, area_id FROM ${table} WHERE id IN (${placeholders(page.length)})`,
			page,
		);
		await setDue(
			tx,
			rows.map(({ id, areaId }) => ({ kind, subjectId: id, areaId, dueAtMs: nowMs })),
		);
	}
}
