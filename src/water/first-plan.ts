import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { placesOf, plannedChecks } from "./check-plan.js";
import { lastCleanedMs, nextCleaningMs } from "./cleanings.js";
import { containersKnown, type KnownContainer, waterNow } from "./containers.js";
import { CHECK_WATER, CLEAN_CONTAINER } from "./kinds.js";
import { visitAfterMs } from "./visit-days.js";

/**
 * Sets when containers that came in, or of which something was put right, are read and cleaned next. What is overdue, or of which nobody
 * knows, is shared out over the interval, so that a file of thousands asks for no more on its first day than on any other.
 * @param ids 500 at most
 */
export async function planContainers(tx: Transaction, ids: readonly string[], policy: Policy, nowMs: number): Promise<void> {
	const containers = [...(await containersKnown(tx, ids)).values()];
	if (containers.length === 0) return;
	const planned = await plannedAlready(tx, ids);
	const unread = containers.filter(({ id }) => !planned.has(`${CHECK_WATER} ${id}`));
	const checks = await plannedChecks(tx, unread, policy, nowMs);
	const cleanings = await plannedCleanings(tx, containers, policy, nowMs);
	await setDue(tx, [
		...unread.map(({ id, areaId }) => ({
			kind: CHECK_WATER,
			subjectId: id,
			areaId,
			dueAtMs: checks.get(id)?.dueAtMs ?? null,
		})),
		...containers
			.filter(({ id }) => !planned.has(`open ${id}`))
			.map(({ id, areaId }) => ({ kind: CLEAN_CONTAINER, subjectId: id, areaId, dueAtMs: cleanings.get(id) ?? null })),
	]);
}

/** @returns "kind id" for what has an instant, or is asked for; "open id" where a cleaning is */
async function plannedAlready(tx: Transaction, ids: readonly string[]): Promise<Set<string>> {
	const marks = placeholders(ids.length, 2);
	const due = await tx.query<{ subjectId: string }>(`SELECT subject_id FROM due WHERE kind = $1 AND subject_id IN (${marks})`, [
		CHECK_WATER,
		...ids,
	]);
	const open = await tx.query<{ subjectId: string }>(
		`SELECT subject_id FROM task WHERE kind = $1 AND state = 'open' AND subject_id IN (${marks})`,
		[CLEAN_CONTAINER, ...ids],
	);
	return new Set([
		...due.map(({ subjectId }) => `${CHECK_WATER} ${subjectId}`),
		...open.map(({ subjectId }) => `open ${subjectId}`),
	]);
}

async function plannedCleanings(
	tx: Transaction,
	containers: readonly KnownContainer[],
	policy: Policy,
	nowMs: number,
): Promise<ReadonlyMap<string, number>> {
	const cleaned = await lastCleanedMs(tx, containers);
	const places = await placesOf(tx, containers);
	const { clear, cloudy } = policy.water.cleanEveryDays;
	return new Map(
		containers.flatMap((container): [string, number][] => {
			const { id, householdId, timeZone } = container;
			const cleanedAtMs = cleaned.get(id);
			const nextMs = cleanedAtMs === undefined ? undefined : nextCleaningMs(container, cleanedAtMs, policy);
			if (nextMs !== undefined && nextMs > nowMs) return [[id, nextMs]];
			const place = places.get(householdId);
			if (!place) return [[id, nowMs]];
			const intervalDays = waterNow(container, nowMs).turbidity === "clear" ? clear : cloudy;
			return [[id, visitAfterMs({ intervalDays, timeZone, ...place }, nowMs)]];
		}),
	);
}
