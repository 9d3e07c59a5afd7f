import { InputError } from "../errors/errors.js";
import { currentPolicy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refreshLots } from "./kit-lots.js";
import { refreshBatteries, refreshGenerators } from "./refresh.js";
import { runProblems } from "./run-checks.js";
import type { GeneratorRunRow } from "./run-rows.js";

/**
 * Looks at runs that a file has just written, beside those that were there, and reckons anew when their generators are next cared for.
 * @throws InputError `conflict` where two runs of a generator overlap, `invalid-input` for a current that the programme's rules don't
 * allow; the file is then refused whole
 */
export async function afterRunsImported(tx: Transaction, runIds: readonly string[], nowMs: number): Promise<void> {
	const policy = await currentPolicy(tx);
	const ids = placeholders(runIds.length);
	const lock = tx.kind === "postgres" ? "FOR UPDATE" : "";
	const generators = await tx.query<{ id: string; code: string; ratedCurrentA: number; batchVolumeL: number }>(
		`SELECT id, code, rated_current_a, batch_volume_l FROM generator WHERE id IN (SELECT generator_id FROM generator_run WHERE id IN (${ids})) ORDER BY id ${lock}`,
		runIds,
	);
	const [overlap] = await tx.query<{ code: string; other: string }>(
		`SELECT r.code, o.code AS other FROM generator_run r JOIN generator_run o ON o.generator_id = r.generator_id AND o.id <> r.id
		 WHERE r.id IN (${ids}) AND o.started_at_ms < r.ended_at_ms AND (o.ended_at_ms IS NULL OR o.ended_at_ms > r.started_at_ms) ORDER BY r.started_at_ms, o.started_at_ms LIMIT 1`,
		runIds,
	);
	if (overlap)
		throw new InputError(
			"conflict",
			`Runs ${overlap.code} and ${overlap.other} of one generator overlap; nothing was imported.`,
			{
				status: 409,
				problems: [
					{ at: "started_at", message: `run ${overlap.code} must not overlap run ${overlap.other} of the same generator` },
				],
			},
		);
	const rows = await tx.query<GeneratorRunRow & object>(
		`SELECT * FROM generator_run WHERE current_a IS NOT NULL AND id IN (${ids})`,
		runIds,
	);
	const byId = new Map(generators.map((generator) => [generator.id, generator]));
	for (const row of rows) {
		const wrong = runProblems(
			{ ...row, isFurther: row.furtherOfRunId !== null },
			byId.get(row.generatorId)!,
			policy.generators,
			nowMs,
		);
		const current = wrong.find(({ at }) => at === "currentA");
		if (current)
			throw new InputError(
				"invalid-input",
				`The current of run ${row.code} isn't allowed by the programme's rules; nothing was imported.`,
				{
					problems: [{ at: "current_a", message: `of run ${row.code} ${current.message}` }],
				},
			);
	}
	await refreshGenerators(
		tx,
		generators.map(({ id }) => id),
		{ nowMs, policy },
	);
}

/** Reckons anew when batteries that a file has brought are next looked at. */
export async function afterBatteriesImported(tx: Transaction, ids: readonly string[], nowMs: number): Promise<void> {
	await refreshBatteries(tx, ids, { nowMs, policy: await currentPolicy(tx) });
}

/** Reckons anew when reagents that a file has brought are to be renewed. */
export async function afterLotsImported(tx: Transaction, ids: readonly string[]): Promise<void> {
	await refreshLots(tx, ids, { policy: await currentPolicy(tx) });
}
