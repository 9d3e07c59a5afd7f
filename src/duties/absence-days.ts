import { volunteerNamed } from "../assignment/people.js";
import { assertRoom } from "../assignment/stated-room.js";
import { InputError } from "../errors/errors.js";
import type { Log } from "../log/log.js";
import { post } from "../messages/wake.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, HOUR_MS } from "../time/clock.js";
import { localDateOf } from "../time/local.js";
import {
	beganWords,
	beginMs,
	begun,
	dueAbsences,
	ended,
	endMs,
	noteOf,
	type OpenAbsence,
	type Volunteer,
	volunteerWithAbsence,
} from "./absences.js";
import type { HandsParts } from "./changing-hands.js";
import type { HandOvers } from "./hand-overs.js";
import { everythingOf, moveAll, stillWithOthers } from "./her-work.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";
import { standIns } from "./stand-in.js";

const MOST_AT_ONCE = 50;
const ACTOR = "scheduler";

/** Begins and ends absences on their days, as they were agreed on before: with the first instant of the day in her area's zone. */
export class AbsenceDays {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly hands: HandsParts,
		private readonly handOvers: HandOvers,
		private readonly log: Pick<Log, "warn">,
	) {}

	/** @returns how many began or ended */
	async pass(): Promise<number> {
		let passed = 0;
		for (const { code, absence } of await dueAbsences(this.store, this.clock.nowMs(), MOST_AT_ONCE)) {
			try {
				if (await this.store.work.run((tx) => this.passOne(tx, code))) passed++;
			} catch (error) {
				if (!(error instanceof InputError)) throw error;
				// One that can't be carried out mustn't hold up the others, nor what the round does after them.
				this.log.warn(
					{ absence: absence?.id, code: error.code },
					"an absence couldn't be carried out; it is tried again in an hour",
				);
				await this.store.work.run((tx) => lookAgain(tx, absence?.id ?? "", this.clock.nowMs() + HOUR_MS));
			}
		}
		return passed;
	}

	private async passOne(tx: Transaction, code: string): Promise<boolean> {
		const volunteer = await volunteerWithAbsence(tx, code);
		const { absence, timeZone } = volunteer;
		if (!absence) return false;
		const nowMs = this.clock.nowMs();
		const today = localDateOf(nowMs, timeZone);
		if (absence.beganAtMs === null) {
			if (absence.untilOn !== null && absence.untilOn < today) return this.missed(tx, volunteer, absence, nowMs);
			if (absence.fromOn <= today) return this.begin(tx, volunteer, absence, nowMs);
			await lookAgain(tx, absence.id, beginMs(absence, timeZone));
			return false;
		}
		const atMs = endMs(absence, timeZone);
		if (atMs !== null && atMs <= nowMs) return this.end(tx, volunteer, absence, nowMs);
		await lookAgain(tx, absence.id, atMs);
		return false;
	}

	/** Nothing ran on any of its days: nothing was handed over, and she is there. */
	private async missed(tx: Transaction, volunteer: Volunteer, absence: OpenAbsence, nowMs: number): Promise<boolean> {
		if (!(await ended(tx, volunteer, absence, nowMs))) return false;
		const { fromOn, untilOn } = absence;
		await noteOf(tx, this.hands.ids, volunteer, { actor: ACTOR, nowMs }, "was away, nothing handed over", { fromOn, untilOn });
		return true;
	}

	private async begin(tx: Transaction, volunteer: Volunteer, absence: OpenAbsence, nowMs: number): Promise<boolean> {
		const { reason, fromOn, untilOn, toId } = absence;
		if (!(await begun(tx, volunteer, absence, nowMs))) return false;
		const moving = { actor: ACTOR, nowMs, because: reason, absenceId: absence.id };
		await noteOf(tx, this.hands.ids, volunteer, moving, beganWords(reason), { reason, fromOn, untilOn, toId });
		const to = toId === null ? undefined : await this.whoTakesOver(tx, volunteer, toId, nowMs);
		const pieces = await everythingOf(tx, volunteer.id, to ?? volunteer.id);
		if (to !== undefined) await moveAll(tx, this.hands, pieces, moving);
		else if (pieces.length > 0)
			await this.propose(tx, volunteer, absence, pieces.filter(({ kind }) => kind === "household").length);
		return true;
	}

	/** @returns her id; none where she has left meanwhile, is away herself, or has no room: that stands in the ledger, and it is proposed instead */
	private async whoTakesOver(tx: Transaction, volunteer: Volunteer, toId: string, nowMs: number): Promise<string | undefined> {
		const [named] = await tx.query<{ code: string }>("SELECT code FROM person WHERE id = $1", [toId]);
		const households = await tx.query<{ id: string }>("SELECT id FROM household WHERE volunteer_id = $1", [volunteer.id]);
		try {
			const person = await volunteerNamed(tx, named?.code ?? "", "");
			await assertRoom(
				tx,
				person,
				households.map(({ id }) => id),
				"",
			);
			return person.id;
		} catch (error) {
			if (!(error instanceof InputError)) throw error;
			const detail = { toId, because: error.message };
			await noteOf(tx, this.hands.ids, volunteer, { actor: ACTOR, nowMs }, "can't be handed over as planned", detail);
			return undefined;
		}
	}

	/** Nobody waits for this proposal at a screen: her supervisor is told of it. */
	private async propose(tx: Transaction, volunteer: Volunteer, { id }: OpenAbsence, households: number): Promise<void> {
		const isProposed = await this.handOvers.proposed(volunteer, id, ACTOR).then(
			() => true,
			(error: unknown) => {
				if (error instanceof InputError) return false;
				throw error;
			},
		);
		const nowMs = this.clock.nowMs();
		const supervisors = await standIns(tx, [{ areaId: volunteer.areaId, assigneeId: volunteer.id }], () => false);
		const person = (await reachablePeople(tx, [...supervisors.values()])).get(supervisors.get(0) ?? "");
		if (!person) return;
		await post(tx, this.hands.wake, [
			{
				id: this.hands.ids.next(),
				idempotencyKey: `absence.${id}.proposed`,
				taskId: null,
				recipientId: person.id,
				text: "absence.supervisor",
				fill: { name: volunteer.name, households, proposed: isProposed ? "yes" : "no" },
				urgent: false,
				createdAtMs: nowMs,
				notBeforeMs: notBeforeMs(person, nowMs),
			},
		]);
	}

	private async end(tx: Transaction, volunteer: Volunteer, absence: OpenAbsence, nowMs: number): Promise<boolean> {
		if (!(await ended(tx, volunteer, absence, nowMs))) return false;
		const moving = { actor: ACTOR, nowMs, because: "return" };
		await noteOf(tx, this.hands.ids, volunteer, moving, "came back", { takeBack: true });
		await moveAll(tx, this.hands, await stillWithOthers(tx, absence.id, volunteer.id), moving);
		return true;
	}
}

async function lookAgain(tx: Transaction, absenceId: string, atMs: number | null): Promise<void> {
	await tx.affected("UPDATE absence SET next_at_ms = $2 WHERE id = $1", [absenceId, atMs]);
}
