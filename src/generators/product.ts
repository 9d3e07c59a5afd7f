import { InputError } from "../errors/errors.js";
import type { Policy } from "../programme/policy.js";
import { productionChanged } from "../stock/due-work.js";
import type { Forecast } from "../stock/forecast.js";
import { refreshForecasts } from "../stock/forecasts.js";
import { type BatchParts, type NewBatch, registerBatch } from "../stock/register.js";
import type { BatchRow } from "../stock/rows.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type BelievedStrength, type FinishedRunFigures, strengthAfterFurther, strengthByRecord } from "./made-strength.js";
import type { GeneratorRow } from "./rows.js";
import type { GeneratorRunRow } from "./run-rows.js";

type EndedRun = GeneratorRunRow & { readonly endedAtMs: number };
type Moment = { readonly nowMs: number; readonly policy: Policy };
type Filled = Pick<BatchRow, "id" | "code" | "areaId">;

/** What the strength model of stored bleach takes, g/L as Cl2. Source: as `solutionFromRun`. */
const STORABLE_G_PER_L = { least: 0.5, most: 15 } as const;
/** More salt than this the strength model doesn't tell apart. Source: as `brineIonicStrength`, outside from 1 mol/L on. */
const MOST_SALT_G_PER_L = 350;

/** Registers what a run made, with the strength that its record lets expect. @throws InputError as `registerBatch`, and for a run that can't have made bleach */
export async function fillFromRun(
	tx: Transaction,
	parts: BatchParts,
	run: EndedRun,
	product: Pick<NewBatch, "code" | "keeperCode" | "wall" | "exposure" | "litAreaM2" | "ph" | "phKnowledge">,
	generator: GeneratorRow & { readonly areaCode: string },
	moment: Moment,
	actor: string,
): Promise<Filled> {
	const made = strengthByRecord({ ...run, volumeL: run.waterL }, generator, moment.policy.generators.madeStrengthLnSd);
	refuseUnstorable(made.strengthGPerL);
	const batch = await registerBatch(
		tx,
		parts,
		{
			...product,
			madeAtMs: run.endedAtMs,
			volumeL: run.waterL,
			madeStrengthGPerL: Math.round(made.strengthGPerL * 100) / 100,
			madeStrengthLnSd: made.lnSd,
			saltGPerL: Math.min(MOST_SALT_G_PER_L, run.saltG / run.waterL),
			generatorCode: generator.code,
			areaCode: generator.areaCode,
		},
		moment,
		actor,
	).catch(atProduct);
	// What was made may serve what was planned.
	await productionChanged(tx, [generator.id], moment.nowMs);
	return batch;
}

/**
 * Strengthens the batch of an earlier run by further minutes: it counts as made when they end, and earlier tests tell nothing of it.
 * @throws InputError `unknown-subject` where the earlier run is none of this generator's or filled nothing, `conflict` where its batch
 * is used up or discarded
 */
export async function runOnInto(
	tx: Transaction,
	{ calendars }: BatchParts,
	run: EndedRun & { readonly furtherOfRunId: string },
	generator: GeneratorRow,
	{ nowMs, policy }: Moment,
): Promise<Filled> {
	const [batch] = await tx.query<
		Pick<BatchRow, "id" | "code" | "areaId" | "madeAtMs" | "volumeL" | "saltGPerL" | "state"> & {
			heldUl: number | null;
			forecast: string | null;
		}
	>(
		`SELECT b.id, b.code, b.area_id, b.made_at_ms, b.volume_l, b.salt_g_per_l, b.state, b.held_ul, b.forecast
		 FROM generator_run r JOIN batch b ON b.id = r.batch_id WHERE r.id = $1 AND r.generator_id = $2`,
		[run.furtherOfRunId, run.generatorId],
	);
	if (!batch?.forecast)
		throw new InputError("unknown-subject", "The run that is to be mended isn't one of this generator that filled a batch.", {
			problems: [{ at: "/furtherOfRun", message: "must be the code of a run of this generator that filled a batch" }],
		});
	const volumeL = batch.heldUl === null ? batch.volumeL : batch.heldUl / 1_000_000;
	if (batch.state === "discarded" || !(volumeL >= 0.1))
		throw new InputError("conflict", `Batch ${batch.code} is used up or discarded: further minutes can't mend it.`, {
			status: 409,
		});
	if (run.startedAtMs < batch.madeAtMs)
		throw new InputError("invalid-input", `Batch ${batch.code} was still being made then.`, {
			problems: [
				{
					at: "/startedAt",
					message: `must not be before ${new Date(batch.madeAtMs).toISOString()}, when batch ${batch.code} was made`,
				},
			],
		});
	const { now } = JSON.parse(batch.forecast) as Forecast;
	const after = strengthRunOn(now, { ...run, volumeL }, generator, policy);
	refuseUnstorable(after.strengthGPerL);
	await tx.affected(
		"UPDATE batch SET made_at_ms = $2, made_strength_g_per_l = $3, made_strength_ln_sd = $4, salt_g_per_l = $5, state = 'in use', forecast = NULL WHERE id = $1",
		[
			batch.id,
			run.endedAtMs,
			Math.round(after.strengthGPerL * 100) / 100,
			after.lnSd,
			Math.min(MOST_SALT_G_PER_L, batch.saltGPerL + run.saltG / volumeL),
		],
	);
	await refreshForecasts(tx, calendars, [batch.id], policy, nowMs);
	return batch;
}

/**
 * What further minutes make of bleach.
 * @param now what is believed of it before them
 * @param run with the litres that are in the vessel
 */
export function strengthRunOn(
	now: Forecast["now"],
	run: FinishedRunFigures,
	generator: GeneratorRow,
	{ generators: { madeStrengthLnSd } }: Policy,
): BelievedStrength {
	const before = { strengthGPerL: Math.max(0.05, now.medianGPerL), lnSd: lnSdOf(now) };
	return strengthAfterFurther(before, strengthByRecord(run, generator, madeStrengthLnSd));
}

/** Nine in ten lie between low and high. */
function lnSdOf({ lowGPerL, highGPerL }: Forecast["now"]): number {
	return lowGPerL > 0 && highGPerL > lowGPerL ? Math.log(highGPerL / lowGPerL) / (2 * 1.645) : 0.5;
}

/** @returns whether bleach of such a strength can be what is in a jar */
export const isStorable = (strengthGPerL: number): boolean =>
	strengthGPerL >= STORABLE_G_PER_L.least && strengthGPerL <= STORABLE_G_PER_L.most;

function refuseUnstorable(strengthGPerL: number): void {
	const { least, most } = STORABLE_G_PER_L;
	if (isStorable(strengthGPerL)) return;
	throw new InputError(
		"invalid-input",
		`By its current, minutes and litres the run makes ${strengthGPerL.toFixed(2)} g/L; ${least} to ${most} can be kept. Look at each again, or say that nothing was kept.`,
		{ problems: [{ at: "/endedAt", message: `must let the run make ${least} to ${most} g/L at this current in this water` }] },
	);
}

/** Problems of the batch stand under the product that it is. */
function atProduct(error: unknown): never {
	if (!(error instanceof InputError) || error.problems.length === 0) throw error;
	const problems = error.problems.map(({ at, message }) => ({ at: `/product${at}`, message }));
	throw new InputError(error.code, error.message, { problems, status: error.status, cause: error });
}
