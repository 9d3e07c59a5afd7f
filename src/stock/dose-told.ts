import { Entity, ForeignKey, Index, PrimaryColumn } from "typeorm";
import type { Policy } from "../programme/policy.js";
import { medianOfMean, strengthAhead } from "../science/outlook.js";
import { InstantColumn, optional, RealColumn } from "../store/columns.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import type { Forecast } from "./forecast.js";
import { BatchRow } from "./rows.js";

/** By what strength a jar's keeper was last told her doses, and when she is told anew. */
@Entity("dose_told")
@Index("dose_told_due", ["dueAtMs"], { where: "due_at_ms IS NOT NULL" })
export class DoseToldRow {
	@ForeignKey(() => BatchRow) @PrimaryColumn({ type: "text" }) batchId!: string;
	/** Absent: she hasn't been told of this jar yet. */
	@RealColumn(optional) toldGPerL!: number | null;
	/** Absent: nothing more is to be told. */
	@InstantColumn(optional) dueAtMs!: number | null;
}

/** Whether doses are told by the forecast at all: by a fixed calendar, or where the programme doesn't want it, by tests alone. */
const isToldAnew = ({ doseAnewShare, retestEveryDays }: Policy): boolean => doseAnewShare !== null && retestEveryDays === null;

/** Whoever collected bleach is told how to dose by it. */
export async function doseToBeTold(tx: Transaction, jarIds: readonly string[], policy: Policy, nowMs: number): Promise<void> {
	if (!isToldAnew(policy) || jarIds.length === 0) return;
	await keep(
		tx,
		jarIds.map((id) => [id, null, nowMs]),
	);
}

/** A jar's keeper has just been told her doses by this strength. @param forecast undefined: she isn't told again */
export async function doseWasTold(
	tx: Transaction,
	jarId: string,
	toldGPerL: number,
	forecast: Pick<Forecast, "outlook"> | undefined,
	policy: Policy,
	nowMs: number,
): Promise<void> {
	if (!isToldAnew(policy)) return;
	const dueAtMs = forecast ? agedAtMs(forecast, toldGPerL * (policy.doseAnewShare as number), nowMs) : null;
	await keep(tx, [[jarId, toldGPerL, dueAtMs]]);
}

async function keep(tx: Transaction, rows: readonly (readonly [string, number | null, number | null])[]): Promise<void> {
	await tx.insert(
		"dose_told",
		["batch_id", "told_g_per_l", "due_at_ms"],
		rows,
		"ON CONFLICT (batch_id) DO UPDATE SET told_g_per_l = excluded.told_g_per_l, due_at_ms = excluded.due_at_ms",
	);
}

const STEP_MS = 6 * HOUR_MS;
const HORIZON_DAYS = 60;

/** @returns the first instant from six hours on at which the strength will probably have fallen to this; none within 60 days */
function agedAtMs({ outlook = [] }: Pick<Forecast, "outlook">, downToGPerL: number, nowMs: number): number | null {
	if (outlook.length === 0) return null;
	for (let atMs = nowMs + STEP_MS; atMs <= nowMs + HORIZON_DAYS * DAY_MS; atMs += STEP_MS)
		if (medianOfMean(strengthAhead(outlook, atMs)) <= downToGPerL) return atMs;
	return null;
}
