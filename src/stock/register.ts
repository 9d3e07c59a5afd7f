import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { refreshForecasts } from "./forecasts.js";
import { litAreaProblem } from "./outside-model.js";
import type { Calendars } from "./places.js";
import { BatchRow } from "./rows.js";

/** A batch as it is put on file; people and places by their codes. */
export interface NewBatch
	extends Pick<BatchRow, "code" | "madeAtMs" | "volumeL" | "madeStrengthGPerL" | "madeStrengthLnSd" | "saltGPerL" | "ph"> {
	readonly phKnowledge: BatchRow["phKnowledge"];
	readonly wall: BatchRow["wall"];
	readonly exposure: BatchRow["exposure"];
	readonly litAreaM2: number;
	readonly generatorCode: string | null;
	readonly areaCode: string;
	readonly keeperCode: string | null;
}

/** What a batch is put on file with. */
export interface BatchParts {
	readonly ids: Ids;
	readonly calendars: Calendars;
}

/**
 * Puts a batch on file and forecasts it, in the caller's unit of work.
 * @param actor a person's id, or the part of the program that acted
 * @throws InputError `unknown-area`, `unknown-subject`, `time-in-future`, `conflict`, `invalid-input` for what the strength model
 * can't take
 */
export async function registerBatch(
	tx: Transaction,
	{ ids, calendars }: BatchParts,
	batch: NewBatch,
	{ nowMs, policy }: { readonly nowMs: number; readonly policy: Policy },
	actor: string,
): Promise<BatchRow> {
	refuseFuture(batch.madeAtMs, nowMs, "/madeAt");
	const row = await rowOf(tx, ids, batch);
	refuseOutsideModel(row);
	await tx.manager.insert(BatchRow, row);
	const { unfit } = await refreshForecasts(tx, calendars, [row.id], policy, nowMs);
	const why = unfit.get(row.id);
	if (why !== undefined) throw cannotBeForecast(why);
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor,
			action: "batch registered",
			subjectKind: "batch",
			subjectId: row.id,
			areaId: row.areaId,
			detail: { code: row.code, madeStrengthGPerL: row.madeStrengthGPerL, volumeL: row.volumeL },
		},
	]);
	return row;
}

async function rowOf(tx: Transaction, ids: Ids, batch: NewBatch): Promise<BatchRow> {
	const { generatorCode, areaCode, keeperCode, ...given } = batch;
	const [taken] = await tx.query("SELECT id FROM batch WHERE code = $1", [batch.code]);
	if (taken) throw new InputError("conflict", `A batch ${batch.code} is on file already.`, { status: 409 });
	return {
		...given,
		id: ids.next(),
		areaId: await found(tx, "area", areaCode, "/areaCode"),
		generatorId: generatorCode === null ? null : await found(tx, "generator", generatorCode, "/generatorCode"),
		keeperId: keeperCode === null ? null : await found(tx, "person", keeperCode, "/keeperCode"),
		state: "in use",
		forecast: null,
	};
}

async function found(tx: Transaction, table: "area" | "generator" | "person", code: string, at: string): Promise<string> {
	const [row] = await tx.query<{ id: string }>(`SELECT id FROM ${table} WHERE code = $1`, [code]);
	if (row) return row.id;
	throw new InputError(
		table === "area" ? "unknown-area" : "unknown-subject",
		`There is no ${table} of the code that was given.`,
		{
			problems: [{ at, message: `must be the code of ${table === "area" ? "an" : "a"} ${table} on file` }],
		},
	);
}

/** What the models don't take is refused when it comes in, not when it is first forecast. */
function refuseOutsideModel(row: BatchRow): void {
	const lit = litAreaProblem(row);
	if (lit) throw cannotBeForecast(lit, "/litAreaM2");
}

function cannotBeForecast(why: string, at = ""): InputError {
	return new InputError("invalid-input", `The batch can't be forecast: ${why}.`, { problems: [{ at, message: why }] });
}
