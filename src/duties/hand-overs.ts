import type { Decisions } from "../assignment/decisions.js";
import { assertStandsOver, refusal, volunteerNamed } from "../assignment/people.js";
import type { Asked, Proposals } from "../assignment/proposals.js";
import type { AbsenceReason } from "../assignment/rows.js";
import { assertRoomKept } from "../assignment/stated-room.js";
import type { ReadVersion } from "../assignment/version.js";
import { InputError } from "../errors/errors.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import { localDateOf } from "../time/local.js";
import { beganWords, beginMs, ended, endMs, noteOf, type OpenAbsence, type Volunteer, volunteerWithAbsence } from "./absences.js";
import { changeHands, type HandsParts } from "./changing-hands.js";
import { besideHouseholds, counted, everythingOf, type HandedOver, moveAll, NOTHING, stillWithOthers } from "./her-work.js";

/** Somebody goes away, or has left. */
export interface Leaving {
	readonly reason: AbsenceReason;
	/** 'YYYY-MM-DD' in her area's zone; left out: today. */
	readonly fromOn?: string | undefined;
	/** The last day; left out: not known, or for good. */
	readonly untilOn?: string | undefined;
	/** Who gets everything; none: it is proposed among those who are left. */
	readonly toCode?: string | undefined;
	readonly byCode?: string | undefined;
}

/** What became of it. */
export interface Left {
	readonly handedOver: HandedOver;
	/** Where it is proposed who takes over. */
	readonly proposal: Asked | null;
	/** The day on which it is handed over; none: it is done. */
	readonly plannedFor: string | null;
}

/** Hands everything of a volunteer over who is ill, on leave or has left, and gives it back when she returns. */
export class HandOvers {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly hands: HandsParts,
		private readonly proposals: Proposals,
		private readonly decisions: Decisions,
	) {}

	/**
	 * Marks a volunteer as away and, from her first day on, gives her households, jars, generators and open tasks to a named person in the
	 * same unit of work, or asks for a proposal. A day in the future is only noted: she is given nothing new, and it is handed over on the day.
	 * @throws InputError `unknown-subject`, `not-allowed`, `invalid-input`
	 */
	async leave(personCode: string, leaving: Leaving): Promise<Left> {
		const done = await this.store.work.run((tx) => this.left(tx, personCode, leaving));
		const { volunteer, absence, actor, handedOver } = done;
		if (absence.beganAtMs === null) return { handedOver, proposal: null, plannedFor: absence.fromOn };
		if (absence.toId !== null) return { handedOver, proposal: null, plannedFor: null };
		return { handedOver, proposal: await this.proposed(volunteer, absence.id, actor), plannedFor: null };
	}

	/** Asks who takes over: those under the same supervisor are left to share her work. */
	proposed({ id, areaId, supervisorAreaId }: Volunteer, absenceId: string, actor: string): Promise<Asked> {
		return this.proposals.begin({ areaId: supervisorAreaId ?? areaId, awayId: id }, { actor, absenceId });
	}

	/** Accepts a proposal; where it is for somebody who is away, her jars, generators and tasks go too. @throws InputError as `Decisions.accept` */
	accept(proposalId: string, read: ReadVersion, byCode?: string): Promise<{ moved: number; handedOver: HandedOver }> {
		return this.store.work.run(async (tx) => {
			const { proposal, moved, actor } = await this.decisions.accept(proposalId, read, byCode);
			const none = { ...NOTHING, households: moved };
			if (proposal.absenceId === null || proposal.restToId === null) return { moved, handedOver: none };
			const [absence] = await tx.query<{ personId: string }>("SELECT person_id FROM absence WHERE id = $1", [proposal.absenceId]);
			const rest = await besideHouseholds(tx, absence?.personId ?? "", proposal.restToId);
			const moving = { actor, nowMs: this.clock.nowMs(), because: `proposal ${proposalId}`, absenceId: proposal.absenceId };
			await changeHands(tx, this.hands, rest, moving);
			return { moved, handedOver: { ...counted(rest), households: moved } };
		});
	}

	/**
	 * Ends an absence, or takes back one that is still to come. @param takeBack what was given to others because of it and is still with
	 * them is hers again
	 * @throws InputError `unknown-subject` (404), `conflict` (409) where she isn't away
	 */
	comeBack(personCode: string, takeBack: boolean, byCode?: string): Promise<HandedOver> {
		return this.store.work.run(async (tx) => {
			const volunteer = await volunteerWithAbsence(tx, personCode);
			const { absence } = volunteer;
			const actor = byCode ? await assertStandsOver(tx, byCode, [volunteer.areaId], "/byPersonCode") : "office";
			const moving = { actor, nowMs: this.clock.nowMs(), because: "return" };
			if (absence === null || !(await ended(tx, volunteer, absence, moving.nowMs)))
				throw new InputError("conflict", `${personCode} isn't away; nothing was changed.`, { status: 409 });
			await noteOf(tx, this.hands.ids, volunteer, moving, absence.beganAtMs === null ? "won't be away" : "came back", {
				takeBack,
			});
			return takeBack ? moveAll(tx, this.hands, await stillWithOthers(tx, absence.id, volunteer.id), moving) : NOTHING;
		});
	}

	private async left(tx: Transaction, personCode: string, leaving: Leaving) {
		const nowMs = this.clock.nowMs();
		const volunteer = await volunteerWithAbsence(tx, personCode);
		const actor = leaving.byCode ? await assertStandsOver(tx, leaving.byCode, [volunteer.areaId], "/byPersonCode") : "office";
		const today = localDateOf(nowMs, volunteer.timeZone);
		const { reason, fromOn = today, untilOn = null, toCode } = leaving;
		assertDays(volunteer, { fromOn, untilOn }, today);
		const to = toCode === undefined ? null : await volunteerNamed(tx, toCode, "/toPersonCode");
		if (to?.id === volunteer.id)
			throw refusal("invalid-input", "Her work can't be handed over to herself.", "/toPersonCode", "must name somebody else");
		const isToCome = fromOn > today;
		const absence = await this.noted(tx, volunteer, { reason, fromOn, untilOn, toId: to?.id ?? null }, isToCome);
		const moving = { actor, nowMs, because: reason, absenceId: absence.id };
		const days = { reason, fromOn, untilOn, toId: absence.toId };
		await noteOf(tx, this.hands.ids, volunteer, moving, isToCome ? "will be away" : beganWords(reason), days);
		if (isToCome) return { volunteer, absence, actor, handedOver: NOTHING };
		await tx.affected("UPDATE person SET active = $2 WHERE id = $1", [volunteer.id, false]);
		const handedOver = to ? await moveAll(tx, this.hands, await everythingOf(tx, volunteer.id, to.id), moving) : NOTHING;
		if (to) await assertRoomKept(tx, [to.id]);
		return { volunteer, absence, actor, handedOver };
	}

	private async noted(
		tx: Transaction,
		{ id: personId, timeZone, absence: before }: Volunteer,
		days: Pick<OpenAbsence, "reason" | "fromOn" | "untilOn" | "toId">,
		isToCome: boolean,
	): Promise<OpenAbsence> {
		const nowMs = this.clock.nowMs();
		const { reason, fromOn, untilOn, toId } = days;
		const absence = {
			...days,
			id: before?.id ?? this.hands.ids.next(),
			beganAtMs: isToCome ? null : (before?.beganAtMs ?? nowMs),
		};
		await tx.affected(
			`INSERT INTO absence (id, person_id, reason, from_on, until_on, to_id, recorded_at_ms, began_at_ms, next_at_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
			 ON CONFLICT (id) DO UPDATE SET reason = excluded.reason, from_on = excluded.from_on, until_on = excluded.until_on, to_id = excluded.to_id,
			 began_at_ms = excluded.began_at_ms, next_at_ms = excluded.next_at_ms`,
			[
				...[absence.id, personId, reason, fromOn, untilOn, toId, nowMs, absence.beganAtMs],
				isToCome ? beginMs(absence, timeZone) : endMs(absence, timeZone),
			],
		);
		return absence;
	}
}

function assertDays(
	{ code, absence }: Volunteer,
	{ fromOn, untilOn }: Pick<OpenAbsence, "fromOn" | "untilOn">,
	today: string,
): void {
	if (untilOn !== null && untilOn < fromOn)
		throw refusal("invalid-input", "Nobody is away until before she goes.", "/until", `must be ${fromOn} or later`);
	if (untilOn !== null && untilOn < today)
		throw refusal(
			"invalid-input",
			`On ${untilOn} she was back already: there it is ${today} today.`,
			"/until",
			`must be ${today} or later`,
		);
	if (fromOn > today && absence !== null && absence.beganAtMs !== null)
		throw refusal("invalid-input", `${code} is away already, since ${absence.fromOn}.`, "/from", `must be ${today} or earlier`);
}
