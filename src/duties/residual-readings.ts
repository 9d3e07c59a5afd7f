import { InputError } from "../errors/errors.js";
import { post, type Wake } from "../messages/wake.js";
import { setDue } from "../programme/due.js";
import { currentPolicy } from "../programme/policy.js";
import type { PHClass } from "../science/contact-time.js";
import type { Calendars } from "../stock/places.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { containerNamed, type KnownContainer } from "../water/containers.js";
import { CHECK_WATER } from "../water/kinds.js";
import type { Answers } from "./answers.js";
import type { Answered, TaskAnswer } from "./kind.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";
import { type ReadingAnswered, readingAnswered } from "./water-readings.js";

export interface UnaskedReading {
	readonly containerCode: string;
	readonly checkedAtMs: number;
	/** A number of mg/L with a point; a `+` behind it for "this or more". */
	readonly reading: string;
	readonly checkerId: string | null;
	readonly waterTemperatureC?: number | undefined;
	readonly pHClass?: PHClass | undefined;
}

/** Readings of free chlorine that came without being asked for: each answers the check that may be open. */
export class ResidualReadings {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly calendars: Calendars,
		private readonly answers: Answers,
		private readonly wake: Wake,
	) {}

	/**
	 * Keeps a reading, judges it by the household's protocol, and tells who must know.
	 * @throws InputError `unknown-subject`, `time-in-future`, `out-of-scale`
	 */
	record(
		reading: UnaskedReading,
	): Promise<ReadingAnswered["taken"]["row"] & { outcome: Answered["outcome"]; nextDueAtMs: number | null }> {
		return this.store.work.run(async (tx) => {
			const container = await containerNamed(tx, reading.containerCode);
			const answer: Extract<TaskAnswer, { kind: "reading" }> = {
				kind: "reading",
				reading: reading.reading,
				takenAtMs: reading.checkedAtMs,
				water: { waterTemperatureC: reading.waterTemperatureC, pHClass: reading.pHClass },
			};
			const [task] = await tx.query<{ id: string }>(
				"SELECT id FROM task WHERE kind = $1 AND subject_id = $2 AND state = 'open'",
				[CHECK_WATER, container.id],
			);
			const answered = task
				? ((await this.answers.take(task.id, answer, reading.checkerId)) as Answered & Partial<ReadingAnswered>)
				: await this.unasked(tx, container, answer, reading.checkerId);
			if (!answered.taken)
				throw new InputError("out-of-scale", "That can't be a reading.", {
					problems: [{ at: "/freeChlorineMgPerL", message: "must be 0 to 50 (mg/L)" }],
				});
			return { ...answered.taken.row, outcome: answered.outcome, nextDueAtMs: answered.nextDueAtMs };
		});
	}

	private async unasked(
		tx: Transaction,
		container: KnownContainer,
		answer: Extract<TaskAnswer, { kind: "reading" }>,
		checkerId: string | null,
	): Promise<ReadingAnswered> {
		const parts = { ids: this.ids, calendars: this.calendars, policy: await currentPolicy(tx), nowMs: this.clock.nowMs() };
		const answered = await readingAnswered(tx, container, answer, { byPersonId: checkerId, taskId: null }, parts);
		const { taken, nextDueAtMs } = answered;
		if (taken.nextCheckAtMs !== undefined)
			await setDue(tx, [{ kind: CHECK_WATER, subjectId: container.id, areaId: container.areaId, dueAtMs: nextDueAtMs }]);
		await this.tell(tx, container, answered, parts.nowMs);
		return answered;
	}

	/** Nobody asked, so nobody waits for a text that says the water is fit; one that isn't is told at once. */
	private async tell(
		tx: Transaction,
		container: KnownContainer,
		{ taken, tell, tellOthers = [] }: ReadingAnswered,
		nowMs: number,
	): Promise<void> {
		const isUnfit = taken.follows !== null && !taken.follows.fitToDrink;
		const told = [
			...(isUnfit && container.volunteerId ? [{ ...tell, recipientId: container.volunteerId, key: "volunteer" }] : []),
			...tellOthers.map((other, i) => ({ ...other, key: i === 0 ? "supervisor" : `other.${i}` })),
		];
		const people = await reachablePeople(tx, told.map(({ recipientId }) => recipientId).concat(container.volunteerId ?? []));
		const name = people.get(container.volunteerId ?? "")?.name ?? "-";
		await post(
			tx,
			this.wake,
			told.flatMap(({ recipientId, key, text, fill, urgent }) => {
				const person = people.get(recipientId);
				if (!person) return [];
				return [
					{
						id: this.ids.next(),
						idempotencyKey: `${taken.row.id}.${key}`,
						taskId: null,
						recipientId,
						text,
						fill: { ...fill, name },
						urgent,
						createdAtMs: nowMs,
						// Somebody may be about to drink it.
						notBeforeMs: key === "volunteer" ? nowMs : notBeforeMs(person, nowMs),
					},
				];
			}),
		);
	}
}
