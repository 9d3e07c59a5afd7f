import { InputError, type Problem } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import type { Exposure, Wall } from "../science/exposure.js";
import { RETEST } from "../stock/due-work.js";

import type { BatchParts } from "../stock/register.js";
import type { BatchRow } from "../stock/rows.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import { localTimeOf } from "../time/local.js";
import { FIND_FAULT } from "./due-kinds.js";
import { fillFromRun, runOnInto } from "./product.js";
import { refreshGenerators } from "./refresh.js";
import type { GeneratorRow } from "./rows.js";
import { runProblems } from "./run-checks.js";
import { GeneratorRunRow } from "./run-rows.js";

/** What a run filled. */
export interface Product {
	/** Left out: made of the generator's code and the day. */
	readonly code?: string;
	readonly keeperCode: string | null;
	readonly wall: Wall;
	readonly exposure: Exposure;
	readonly litAreaM2: number;
	readonly ph: number | null;
	readonly phKnowledge: BatchRow["phKnowledge"];
}

/** A run as it is put on file. */
export interface NewRun extends Omit<GeneratorRunRow, "id" | "code" | "recordedAtMs" | "batchId"> {
	/** Left out: made of the generator's code and the start. */
	readonly code?: string;
	/** Rinsed after it. */
	readonly rinsed: boolean;
	/** Null: nothing worth keeping. Further minutes always fill the batch that they mend. */
	readonly product: Product | null;
}

/** What tells of a run's end. */
export type RunEnd = Pick<NewRun, "currentA" | "gasSeen" | "rinsed" | "product"> & { readonly endedAtMs: number };

export interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

export interface KeptRun {
	readonly run: GeneratorRunRow;
	/** Of what it filled. */
	readonly batchCode: string | null;
}

type LockedGenerator = GeneratorRow & { readonly areaCode: string; readonly timeZone: string };

/**
 * Puts a run on file; what it made is registered as a batch, further minutes strengthen the batch that they mend.
 * @param actor who says so: a person's id, or a part of the program
 * @throws InputError `unknown-subject`, `invalid-input` or `time-in-future` with a problem for each field, `conflict` where another
 * run of the generator is on file for the same time, or the generator is out of service
 */
export async function recordRun(
	tx: Transaction,
	parts: BatchParts,
	run: NewRun,
	moment: Moment,
	actor: string,
): Promise<KeptRun> {
	const generator = await lockedGenerator(tx, run.generatorId);
	refuseWrong(run, generator, moment);
	await refuseOverlap(tx, run);
	await refuseOutOfService(tx, generator, run);
	const { rinsed: _, product: __, code, ...given } = run;
	const row: GeneratorRunRow = {
		...given,
		id: parts.ids.next(),
		code: code ?? (await freeCode(tx, "generator_run", `${generator.code}.${compact(run.startedAtMs, generator.timeZone, 15)}`)),
		recordedAtMs: moment.nowMs,
		batchId: null,
	};
	if (code !== undefined) await refuseTaken(tx, code);
	await tx.manager.insert(GeneratorRunRow, row);
	return finish(tx, parts, row, run, generator, moment, actor);
}

/**
 * Ends the run that is going on.
 * @throws InputError `conflict` where none is going on, and as `recordRun` does
 */
export async function endRun(
	tx: Transaction,
	parts: BatchParts,
	generatorId: string,
	end: RunEnd,
	moment: Moment,
	actor: string,
): Promise<KeptRun> {
	const generator = await lockedGenerator(tx, generatorId);
	const going = await tx.manager
		.createQueryBuilder(GeneratorRunRow, "r")
		.where("r.generatorId = :generatorId AND r.endedAtMs IS NULL", { generatorId })
		.getOne();
	if (!going)
		throw new InputError(
			"conflict",
			`No run of generator ${generator.code} is going on; put it on file with its start and end.`,
			{ status: 409 },
		);
	const run = { ...going, ...end, currentA: end.currentA ?? going.currentA, gasSeen: end.gasSeen ?? going.gasSeen };
	refuseWrong(run, generator, moment);
	const { rinsed: _, product: __, ...row } = run;
	await tx.manager.update(
		GeneratorRunRow,
		{ id: going.id },
		{ endedAtMs: row.endedAtMs, currentA: row.currentA, gasSeen: row.gasSeen },
	);
	return finish(tx, parts, row, run, generator, moment, actor);
}

async function finish(
	tx: Transaction,
	parts: BatchParts,
	row: GeneratorRunRow,
	run: Pick<NewRun, "rinsed" | "product">,
	generator: LockedGenerator,
	moment: Moment,
	actor: string,
): Promise<KeptRun> {
	const ended = row.endedAtMs === null ? null : { ...row, endedAtMs: row.endedAtMs };
	const batch = ended && (await productOf(tx, parts, ended, run.product, generator, moment, actor));
	if (batch) await tx.manager.update(GeneratorRunRow, { id: row.id }, { batchId: batch.id });
	if (ended && run.rinsed)
		await tx.affected(
			`INSERT INTO generator_care (id, generator_id, work, done_at_ms, recorded_at_ms, by_person_id) VALUES ($1, $2, 'rinsed', $3, $4, $5)`,
			[parts.ids.next(), row.generatorId, ended.endedAtMs, moment.nowMs, row.operatorId],
		);
	// What was made is tested right after the run: a later test tells of storage.
	const isFresh = ended && moment.nowMs - ended.endedAtMs <= moment.policy.generators.testWithinHours * HOUR_MS;
	if (batch && isFresh && (await isItsTurn(tx, row, moment.policy.generators.testRunsEvery)))
		await setDue(tx, [{ kind: RETEST, subjectId: batch.id, areaId: batch.areaId, dueAtMs: moment.nowMs }]);
	// Current that flows sets gas free: none was seen, so none flowed, or hardly any.
	if (ended && row.gasSeen === false)
		await setDue(tx, [{ kind: FIND_FAULT, subjectId: row.generatorId, areaId: generator.areaId, dueAtMs: moment.nowMs }]);
	await refreshGenerators(tx, [row.generatorId], moment);
	await record(tx, parts.ids, [
		{
			atMs: moment.nowMs,
			actor,
			action: ended ? "run recorded" : "run begun",
			subjectKind: "generator",
			subjectId: row.generatorId,
			areaId: generator.areaId,
			detail: { run: row.code, saltG: row.saltG, waterL: row.waterL, currentA: row.currentA, batch: batch?.code ?? null },
		},
	]);
	return { run: { ...row, batchId: batch?.id ?? null }, batchCode: batch?.code ?? null };
}

/** @returns whether the batch of a run is tested because it has just been made */
async function isItsTurn(tx: Transaction, { id, generatorId, furtherOfRunId }: GeneratorRunRow, every: number): Promise<boolean> {
	if (every === 1 || furtherOfRunId !== null) return true;
	const [before] = await tx.query<{ number: number }>(
		`SELECT COUNT(*) AS number FROM generator_run WHERE generator_id = $1 AND id <> $2 AND batch_id IS NOT NULL AND further_of_run_id IS NULL`,
		[generatorId, id],
	);
	return Number(before?.number ?? 0) % every === 0;
}

async function productOf(
	tx: Transaction,
	parts: BatchParts,
	run: GeneratorRunRow & { readonly endedAtMs: number },
	product: Product | null,
	generator: LockedGenerator,
	moment: Moment,
	actor: string,
): Promise<{ readonly id: string; readonly code: string; readonly areaId: string } | null> {
	if (run.furtherOfRunId) return runOnInto(tx, parts, { ...run, furtherOfRunId: run.furtherOfRunId }, generator, moment);
	if (!product) return null;
	const code =
		product.code ?? (await freeCode(tx, "batch", `${generator.code}-${compact(run.endedAtMs, generator.timeZone, 10)}`));
	return fillFromRun(tx, parts, run, { ...product, code }, generator, moment, actor);
}

/** Whoever writes for the same generator at the same moment waits here, so that no two runs can overlap. */
export async function lockedGenerator(tx: Transaction, id: string): Promise<LockedGenerator> {
	const lock = tx.kind === "postgres" ? "FOR UPDATE OF g" : "";
	const [row] = await tx.query<LockedGenerator & object>(
		`SELECT g.*, a.code AS area_code, a.time_zone FROM generator g JOIN area a ON a.id = g.area_id WHERE g.id = $1 ${lock}`,
		[id],
	);
	if (!row) throw new InputError("unknown-subject", "There is no such generator.", { status: 404 });
	return { ...row, inService: Boolean(row.inService) };
}

function refuseWrong(run: Omit<NewRun, "code">, generator: GeneratorRow, { nowMs, policy }: Moment): void {
	const wrong = runProblems({ ...run, isFurther: run.furtherOfRunId !== null }, generator, policy.generators, nowMs);
	if (wrong.length === 0) return;
	const problems: Problem[] = wrong.map(({ at, message }) => ({ at: `/${at}`, message }));
	const inFuture = wrong.every(({ message }) => message === "must not be after now");
	throw new InputError(
		inFuture ? "time-in-future" : "invalid-input",
		`The run can't be kept: ${wrong.map(({ at, message }) => `${at} ${message}`).join("; ")}.`,
		{ problems },
	);
}

async function refuseOverlap(tx: Transaction, { generatorId, startedAtMs, endedAtMs }: NewRun): Promise<void> {
	const [other] = await tx.query<{ code: string; startedAtMs: number; endedAtMs: number | null }>(
		`SELECT code, started_at_ms, ended_at_ms FROM generator_run
		 WHERE generator_id = $1 AND started_at_ms < $2 AND (ended_at_ms IS NULL OR ended_at_ms > $3) ORDER BY started_at_ms LIMIT 1`,
		[generatorId, endedAtMs ?? Number.MAX_SAFE_INTEGER, startedAtMs],
	);
	if (!other) return;
	const from = new Date(other.startedAtMs).toISOString();
	const until = other.endedAtMs === null ? "still going on" : `until ${new Date(other.endedAtMs).toISOString()}`;
	throw new InputError("conflict", `The generator was at work on another run then: ${other.code}, from ${from}, ${until}.`, {
		status: 409,
		problems: [{ at: "/startedAt", message: `must not lie within run ${other.code} (from ${from}, ${until}), nor the end` }],
	});
}

async function refuseOutOfService(tx: Transaction, generator: LockedGenerator, { startedAtMs }: NewRun): Promise<void> {
	const [outage] = await tx.query<{ fromMs: number }>(
		"SELECT from_ms FROM generator_outage WHERE generator_id = $1 AND from_ms <= $2 AND (until_ms IS NULL OR until_ms > $2)",
		[generator.id, startedAtMs],
	);
	if (!outage) return;
	const from = new Date(outage.fromMs).toISOString();
	throw new InputError(
		"conflict",
		`Generator ${generator.code} was out of service then (since ${from}); say first when it was in service again.`,
		{
			status: 409,
			problems: [{ at: "/startedAt", message: "must not lie within a time out of service" }],
		},
	);
}

async function refuseTaken(tx: Transaction, code: string): Promise<void> {
	const [taken] = await tx.query("SELECT id FROM generator_run WHERE code = $1", [code]);
	if (taken) throw new InputError("conflict", `A run ${code} is on file already.`, { status: 409 });
}

/** @returns `260303` or `260303-0800` of an instant in the wall time of a place */
function compact(atMs: number, timeZone: string, length: 10 | 15): string {
	return localTimeOf(atMs, timeZone)
		.slice(2, length === 10 ? 10 : 16)
		.replace(/[-:]/g, "")
		.replace(" ", "-");
}

async function freeCode(tx: Transaction, table: "generator_run" | "batch", wanted: string): Promise<string> {
	const taken = new Set(
		(await tx.query<{ code: string }>(`SELECT code FROM ${table} WHERE code = $1 OR code LIKE $2`, [wanted, `${wanted}-%`])).map(
			({ code }) => code,
		),
	);
	for (let n = 1; ; n++) {
		const code = n === 1 ? wanted : `${wanted}-${n}`;
		if (!taken.has(code)) return code;
	}
}
