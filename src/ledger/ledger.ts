import { Entity, Index } from "typeorm";
import { IdColumn, InstantColumn, JsonColumn, optional, TextColumn } from "../store/columns.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";

/** One change: who, when, what, why. Only ever added. */
@Entity("ledger_entry")
@Index("ledger_subject", ["subjectKind", "subjectId"])
@Index("ledger_at", ["atMs"])
export class LedgerRow {
	@IdColumn() id!: string;
	@InstantColumn() atMs!: number;
	/** A person's id, or the part of the program that acted. */
	@TextColumn() actor!: string;
	@TextColumn() action!: string;
	@TextColumn() subjectKind!: string;
	@TextColumn() subjectId!: string;
	@TextColumn(optional) areaId!: string | null;
	@JsonColumn() detail!: Record<string, unknown>;
}

export type LedgerEntry = Omit<LedgerRow, "id" | "areaId"> & { areaId?: string | null };

/** Adds entries in the same unit of work as the change that they tell of. */
export async function record(tx: Transaction, ids: Ids, entries: readonly LedgerEntry[]): Promise<void> {
	const rows = entries.map((e) => [
		ids.next(),
		e.atMs,
		e.actor,
		e.action,
		e.subjectKind,
		e.subjectId,
		e.areaId ?? null,
		JSON.stringify(e.detail),
	]);
	await tx.insert("ledger_entry", COLUMNS, rows);
}

const COLUMNS = ["id", "at_ms", "actor", "action", "subject_kind", "subject_id", "area_id", "detail"];
