import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { setDue } from "../programme/due.js";
import { currentPolicy } from "../programme/policy.js";
import type { Calendars } from "../stock/places.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { plannedChecks } from "../water/check-plan.js";
import { takeCleaning } from "../water/cleanings.js";
import { containerNamed, type KnownContainer } from "../water/containers.js";
import { type DoseTaken, type NewDose, takeDose } from "../water/doses.js";
import { CHECK_WATER, CLEAN_CONTAINER } from "../water/kinds.js";
import type { ContainerCleaningRow } from "../water/rows.js";
import { withdrawTasks } from "./withdraw.js";

/** What is known of households' water without being asked for: doses, cleanings, what was poured out; it ends the tasks that ask for what has been done. */
export class WaterFacts {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly calendars: Calendars,
	) {}

	/** @throws InputError as `takeDose` does; `unknown-subject` for container or batch */
	recordDose(dose: Omit<NewDose, "batchId"> & { containerCode: string; batchCode: string }): Promise<DoseTaken> {
		return this.store.work.run(async (tx) => {
			const { containerCode, batchCode, ...given } = dose;
			const container = await containerNamed(tx, containerCode);
			const [batch] = await tx.query<{ id: string }>("SELECT id FROM batch WHERE code = $1", [batchCode]);
			if (!batch)
				throw new InputError("unknown-subject", "There is no batch of the code that was given.", {
					status: 404,
					problems: [{ at: "/batchCode", message: "must be the code of a batch on file" }],
				});
			const taken = await takeDose(tx, container, { ...given, batchId: batch.id }, await this.parts(tx));
			if (taken.nextCheckAtMs !== undefined)
				await this.nextCheck(tx, container, taken.nextCheckAtMs, "the container was dosed anew");
			return taken;
		});
	}

	/** A cleaning that does what the task that may be open asks for. @throws InputError as `takeCleaning` does */
	recordCleaning(
		containerCode: string,
		cleanedAtMs: number,
		cleanerId: string | null,
	): Promise<{ row: ContainerCleaningRow; nextDueAtMs: number }> {
		return this.store.work.run(async (tx) => {
			const container = await containerNamed(tx, containerCode, "code");
			const { policy, nowMs } = await this.parts(tx);
			const taken = await takeCleaning(tx, this.ids, container, { cleanedAtMs, cleanerId }, { policy, nowMs });
			const { row, nextDueAtMs } = taken;
			if (nextDueAtMs <= nowMs) return taken;
			await withdrawTasks(tx, this.ids, {
				kind: CLEAN_CONTAINER,
				subjectIds: [container.id],
				evidence: { because: "the container was cleaned", cleaningId: row.id, cleanedAtMs },
				actor: cleanerId ?? "office",
				nowMs,
			});
			await setDue(tx, [{ kind: CLEAN_CONTAINER, subjectId: container.id, areaId: container.areaId, dueAtMs: nextDueAtMs }]);
			return taken;
		});
	}

	/** The water is out of the container: its dose is closed, and nothing is asked of it any more. @returns whether a dose was open */
	recordEmptied(containerCode: string, atMs: number): Promise<boolean> {
		return this.store.work.run(async (tx) => {
			const container = await containerNamed(tx, containerCode, "code");
			const { nowMs } = await this.parts(tx);
			refuseFuture(atMs, nowMs, "/emptiedAt");
			const [open] = await tx.query<{ dosedAtMs: number }>(
				"SELECT dosed_at_ms FROM dose WHERE container_id = $1 AND state = 'open'",
				[container.id],
			);
			if (open && atMs < open.dosedAtMs)
				throw new InputError("conflict", "The water that is in it was dosed after that.", {
					status: 409,
					problems: [{ at: "/emptiedAt", message: `must not be before ${new Date(open.dosedAtMs).toISOString()}` }],
				});
			const closed = await tx.affected(
				"UPDATE dose SET state = 'closed', ended_at_ms = $2, ended_because = 'used up' WHERE container_id = $1 AND state = 'open'",
				[container.id, atMs],
			);
			await tx.affected("UPDATE container_fill SET so_far = NULL, waiting_since_ms = NULL WHERE container_id = $1", [
				container.id,
			]);
			await this.nextCheck(tx, container, undefined, "the water is out of the container");
			await record(tx, this.ids, [
				{
					atMs: nowMs,
					actor: "office",
					action: "container emptied",
					subjectKind: "container",
					subjectId: container.id,
					areaId: container.areaId,
					detail: { emptiedAt: new Date(atMs).toISOString() },
				},
			]);
			return closed > 0;
		});
	}

	private async parts(tx: Transaction) {
		return { ids: this.ids, calendars: this.calendars, policy: await currentPolicy(tx), nowMs: this.clock.nowMs() };
	}

	/** What was asked of the water before isn't asked any more. @param dueAtMs undefined: by the household's turn */
	private async nextCheck(
		tx: Transaction,
		container: KnownContainer,
		dueAtMs: number | null | undefined,
		because: string,
	): Promise<void> {
		const { policy, nowMs } = await this.parts(tx);
		await withdrawTasks(tx, this.ids, {
			kind: CHECK_WATER,
			subjectIds: [container.id],
			evidence: { because },
			actor: "office",
			nowMs,
		});
		const next =
			dueAtMs === undefined
				? ((await plannedChecks(tx, [container], policy, nowMs)).get(container.id)?.dueAtMs ?? null)
				: dueAtMs;
		await setDue(tx, [{ kind: CHECK_WATER, subjectId: container.id, areaId: container.areaId, dueAtMs: next }]);
	}
}
