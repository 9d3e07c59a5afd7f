import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { instantOfLocal, localDateOf } from "../time/local.js";
import { type KnownContainer } from "./containers.js";
import { turbidityIn } from "./need.js";
import { ContainerCleaningRow } from "./rows.js";

/** A cleaning of which only the day is known is taken to have been at this hour. */
const NOON = "12:00";

export interface NewCleaning {
	readonly cleanedAtMs: number;
	readonly cleanerId: string | null;
}

/**
 * When a container is cleaned next: each day wears it by a part of the interval that its water of that day allows, so that a cloudy
 * season since the last cleaning brings it forward.
 * @param cleanedAtMs when it was cleaned last
 * @returns an instant after it
 */
export function nextCleaningMs(
	container: Pick<KnownContainer, "turbidity" | "habits">,
	cleanedAtMs: number,
	{ water }: Policy,
): number {
	const { clear, cloudy } = water.cleanEveryDays;
	let worn = 0;
	for (let day = 0; ; day++) {
		const month = new Date(cleanedAtMs + day * DAY_MS).getUTCMonth() + 1;
		const everyDays = turbidityIn(container, month) === "clear" ? clear : cloudy;
		if (worn + 1 / everyDays >= 1 - 1e-9) return cleanedAtMs + Math.round((day + (1 - worn) * everyDays) * DAY_MS);
		worn += 1 / everyDays;
	}
}

/** @returns when each container was cleaned last, by id; by its history, else by the day that stands with it */
export async function lastCleanedMs(
	from: Pick<Transaction, "query">,
	containers: readonly KnownContainer[],
): Promise<ReadonlyMap<string, number>> {
	if (containers.length === 0) return new Map();
	const rows = await from.query<{ containerId: string; cleanedAtMs: number }>(
		`SELECT container_id, MAX(cleaned_at_ms) AS cleaned_at_ms FROM container_cleaning WHERE container_id IN (${placeholders(containers.length)}) GROUP BY container_id`,
		containers.map(({ id }) => id),
	);
	const last = new Map(rows.map(({ containerId, cleanedAtMs }) => [containerId, Number(cleanedAtMs)]));
	for (const { id, lastCleanedOn, timeZone } of containers)
		if (lastCleanedOn !== null)
			last.set(id, Math.max(last.get(id) ?? Number.NEGATIVE_INFINITY, instantOfDay(lastCleanedOn, timeZone, last.get(id))));
	return last;
}

/** @returns the containers whose water a check has found unfit since they were cleaned last */
export async function failedSince(
	from: Pick<Transaction, "query">,
	containers: readonly KnownContainer[],
	cleanedAtMs: ReadonlyMap<string, number>,
): Promise<ReadonlySet<string>> {
	if (containers.length === 0) return new Set();
	const rows = await from.query<{ containerId: string; failedAtMs: number }>(
		`SELECT container_id, MAX(checked_at_ms) AS failed_at_ms FROM residual_check WHERE NOT fit_to_drink
		   AND container_id IN (${placeholders(containers.length)}) GROUP BY container_id`,
		containers.map(({ id }) => id),
	);
	return new Set(
		rows.flatMap(({ containerId, failedAtMs }) =>
			Number(failedAtMs) > (cleanedAtMs.get(containerId) ?? Number.NEGATIVE_INFINITY) ? [containerId] : [],
		),
	);
}

/** The instant of a day; where an instant of that day is known already, that one. */
function instantOfDay(date: string, timeZone: string, knownMs: number | undefined): number {
	return knownMs !== undefined && localDateOf(knownMs, timeZone) === date ? knownMs : instantOfLocal(date, NOON, timeZone);
}

/**
 * Keeps that a container was cleaned.
 * @returns when it is cleaned next
 * @throws InputError `time-in-future`, `conflict` (the same cleaning is on file)
 */
export async function takeCleaning(
	tx: Transaction,
	ids: Ids,
	container: KnownContainer,
	{ cleanedAtMs, cleanerId }: NewCleaning,
	{ policy, nowMs }: { readonly policy: Policy; readonly nowMs: number },
): Promise<{ readonly row: ContainerCleaningRow; readonly nextDueAtMs: number }> {
	refuseFuture(cleanedAtMs, nowMs, "/cleanedAt");
	const [same] = await tx.query("SELECT id FROM container_cleaning WHERE container_id = $1 AND cleaned_at_ms = $2", [
		container.id,
		cleanedAtMs,
	]);
	if (same)
		throw new InputError("conflict", `Container ${container.code} was noted as cleaned at that instant already.`, {
			status: 409,
		});
	const row: ContainerCleaningRow = { id: ids.next(), containerId: container.id, cleanedAtMs, recordedAtMs: nowMs, cleanerId };
	await tx.manager.insert(ContainerCleaningRow, row);
	const date = localDateOf(cleanedAtMs, container.timeZone);
	await tx.affected(
		"UPDATE container SET last_cleaned_on = $2 WHERE id = $1 AND (last_cleaned_on IS NULL OR last_cleaned_on < $2)",
		[container.id, date],
	);
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor: cleanerId ?? "office",
			action: "container cleaned",
			subjectKind: "container",
			subjectId: container.id,
			areaId: container.areaId,
			detail: { cleaningId: row.id, cleanedAt: new Date(cleanedAtMs).toISOString() },
		},
	]);
	const last = (await lastCleanedMs(tx, [{ ...container, lastCleanedOn: null }])).get(container.id) ?? cleanedAtMs;
	return { row, nextDueAtMs: nextCleaningMs(container, last, policy) };
}
