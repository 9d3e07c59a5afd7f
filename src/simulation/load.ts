import { setDue } from "../programme/due.js";
import { currentPolicy } from "../programme/policy.js";
import { householdsChanged } from "../stock/due-work.js";
import { snakeCase } from "../store/columns.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { plannedChecks } from "../water/check-plan.js";
import { containersKnown } from "../water/containers.js";
import { CHECK_WATER } from "../water/kinds.js";
import type { SimulatedProgramme } from "./programme.js";

/** Writes a simulated programme into an empty database, and what is due for it from the first day on. */
export function loadProgramme(store: Store, of: SimulatedProgramme, nowMs: number): Promise<void> {
	return store.work.run(async (tx) => {
		await insert(tx, "programme", [of.programme]);
		await insert(tx, "area", of.areas);
		await insert(tx, "person", of.people);
		await insert(tx, "household", of.households);
		await insert(tx, "container", of.containers);
		await insert(tx, "generator", of.generators);
		const policy = await currentPolicy(tx);
		const ids = of.containers.map(({ id }) => id);
		for (let from = 0; from < ids.length; from += PAGE) {
			const known = [...(await containersKnown(tx, ids.slice(from, from + PAGE))).values()];
			const checks = await plannedChecks(tx, known, policy, nowMs);
			await setDue(
				tx,
				known.map(({ id, areaId }) => ({ kind: CHECK_WATER, subjectId: id, areaId, dueAtMs: checks.get(id)?.dueAtMs ?? null })),
			);
		}
		await householdsChanged(
			tx,
			of.households.map(({ id }) => id),
			nowMs,
		);
	});
}

const PAGE = 250;

async function insert(tx: Transaction, table: string, rows: readonly object[]): Promise<void> {
	const properties = Object.keys(rows[0] ?? {});
	const cell = (value: unknown) => (typeof value === "object" && value !== null ? JSON.stringify(value) : value);
	for (let from = 0; from < rows.length; from += PAGE)
		await tx.insert(
			table,
			properties.map(snakeCase),
			rows.slice(from, from + PAGE).map((row) => properties.map((name) => cell((row as Record<string, unknown>)[name]))),
		);
}
