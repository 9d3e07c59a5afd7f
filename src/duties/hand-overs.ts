import type { Decisions } from "../assignment/decisions.js";
import { type HouseholdMove, type Moving, moveHouseholds } from "../assignment/moves.js";
import { assertStandsOver, refusal, volunteerNamed } from "../assignment/people.js";
import type { Asked, Proposals } from "../assignment/proposals.js";
import type { AbsenceReason } from "../assignment/rows.js";
import { assertRoomKept } from "../assignment/stated-room.js";
import type { ReadVersion } from "../assignment/version.js";
import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import { localDateOf } from "../time/local.js";
import { changeHands, followersOf, type HandsParts, householdPieces, type Piece, tasksAbout } from "./changing-hands.js";

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

/** What changed hands. */
export interface HandedOver {
	readonly households: number;
	readonly jars: number;
	readonly tasks: number;
}

interface Away {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly timeZone: string;
	readonly active: boolean | number;
	readonly supervisorAreaId: string | null;
	readonly absenceId: string | null;
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
	 * Marks a volunteer as away and, from her first day on, gives her households, jars and open tasks to a named person in the same unit of
	 * work, or asks for a proposal. A day in the future is only noted: she is given nothing new, and it is handed over on the day.
	 * @throws InputError `unknown-subject`, `not-allowed`, `invalid-input`
	 */
	async leave(personCode: string, leaving: Leaving): Promise<{ handedOver: HandedOver; proposal: Asked | null }> {
		const done = await this.store.work.run((tx) => this.left(tx, personCode, leaving));
		const { away, absenceId, actor, isToCome, handedOver } = done;
		if (isToCome || leaving.toCode !== undefined) return { handedOver, proposal: null };
		// Those under the same supervisor are left to share her work.
		const scope = { areaId: away.supervisorAreaId ?? away.areaId, awayId: away.id };
		return { handedOver, proposal: await this.proposals.begin(scope, { actor, absenceId }) };
	}

	/** Accepts a proposal; where it is for somebody who is away, her other jars and tasks go too. @throws InputError as `Decisions.accept` */
	accept(proposalId: string, read: ReadVersion, byCode?: string): Promise<{ moved: number; handedOver: HandedOver }> {
		return this.store.work.run(async (tx) => {
			const { proposal, moved, actor } = await this.decisions.accept(proposalId, read, byCode);
			const none = { households: moved, jars: 0, tasks: 0 };
			if (proposal.absenceId === null || proposal.restToId === null) return { moved, handedOver: none };
			const [absence] = await tx.query<{ personId: string }>("SELECT person_id FROM absence WHERE id = $1", [proposal.absenceId]);
			const rest = await jarsAndTasksOf(tx, absence?.personId ?? "", proposal.restToId);
			const moving = { actor, nowMs: this.clock.nowMs(), because: `proposal ${proposalId}`, absenceId: proposal.absenceId };
			await changeHands(tx, this.hands, rest, moving);
			return { moved, handedOver: { ...counted(rest), households: moved } };
		});
	}

	/**
	 * Ends an absence. @param takeBack what was given to others because of it and is still with them is hers again
	 * @throws InputError `unknown-subject` (404), `conflict` (409) where she isn't away
	 */
	comeBack(personCode: string, takeBack: boolean, byCode?: string): Promise<HandedOver> {
		return this.store.work.run(async (tx) => {
			const away = await awayNamed(tx, personCode);
			if (away.absenceId === null)
				throw new InputError("conflict", `${personCode} isn't away; nothing was changed.`, { status: 409 });
			const actor = byCode ? await assertStandsOver(tx, byCode, [away.areaId], "/byPersonCode") : "office";
			const moving = { actor, nowMs: this.clock.nowMs(), because: "return" };
			await tx.affected("UPDATE absence SET returned_at_ms = $2 WHERE id = $1", [away.absenceId, moving.nowMs]);
			await tx.affected("UPDATE person SET active = $2 WHERE id = $1", [away.id, true]);
			await tx.affected(
				`UPDATE assignment_proposal SET state = CASE state WHEN 'open' THEN 'rejected' ELSE 'stopped' END, version = version + 1, closed_at_ms = $2
				 WHERE absence_id = $1 AND state IN ('open', 'solving')`,
				[away.absenceId, moving.nowMs],
			);
			await this.note(tx, away, moving, "came back", { takeBack });
			if (!takeBack) return { households: 0, jars: 0, tasks: 0 };
			const back = await stillWithOthers(tx, away.absenceId, away.id);
			return this.move(tx, back, moving);
		});
	}

	private async left(tx: Transaction, personCode: string, leaving: Leaving) {
		const nowMs = this.clock.nowMs();
		const away = await awayNamed(tx, personCode);
		const actor = leaving.byCode ? await assertStandsOver(tx, leaving.byCode, [away.areaId], "/byPersonCode") : "office";
		const today = localDateOf(nowMs, away.timeZone);
		const { reason, fromOn = today, untilOn, toCode } = leaving;
		if (untilOn !== undefined && untilOn < fromOn)
			throw refusal("invalid-input", "Nobody is away until before she goes.", "/untilOn", `must be ${fromOn} or later`);
		const isToCome = fromOn > today;
		if (isToCome && toCode !== undefined)
			throw refusal(
				"invalid-input",
				`Her work is handed over on the day; ${fromOn} is still to come.`,
				"/toPersonCode",
				`may be given from ${fromOn} on`,
			);
		const to = toCode === undefined ? null : await volunteerNamed(tx, toCode, "/toPersonCode");
		if (to?.id === away.id)
			throw refusal("invalid-input", "Her work can't be handed over to herself.", "/toPersonCode", "must name somebody else");
		const absenceId = away.absenceId ?? this.hands.ids.next();
		await tx.affected(
			`INSERT INTO absence (id, person_id, reason, from_on, until_on, recorded_at_ms) VALUES ($1, $2, $3, $4, $5, $6)
			 ON CONFLICT (id) DO UPDATE SET reason = excluded.reason, from_on = excluded.from_on, until_on = excluded.until_on`,
			[absenceId, away.id, reason, fromOn, untilOn ?? null, nowMs],
		);
		const moving = { actor, nowMs, because: reason, absenceId };
		await this.note(tx, away, moving, isToCome ? "will be away" : reason === "left" ? "left" : "is away", {
			reason,
			fromOn,
			untilOn: untilOn ?? null,
		});
		let handedOver: HandedOver = { households: 0, jars: 0, tasks: 0 };
		if (!isToCome) await tx.affected("UPDATE person SET active = $2 WHERE id = $1", [away.id, false]);
		if (to) {
			const households = await tx.query<{ id: string }>("SELECT id FROM household WHERE volunteer_id = $1 ORDER BY code", [
				away.id,
			]);
			const pieces = [
				...households.map(({ id }): Piece => ({ kind: "household", id, fromId: away.id, toId: to.id })),
				...(await jarsAndTasksOf(tx, away.id, to.id)),
			];
			handedOver = await this.move(tx, pieces, moving);
			await assertRoomKept(tx, [to.id]);
		}
		return { away, absenceId, actor, isToCome, handedOver };
	}

	/** Everything in one go, so that each person is told once. */
	private async move(tx: Transaction, pieces: readonly Piece[], moving: Moving): Promise<HandedOver> {
		const moves = pieces.flatMap(({ kind, id, fromId, toId }): HouseholdMove[] =>
			kind === "household" ? [{ householdId: id, fromId, toId }] : [],
		);
		await moveHouseholds(tx, { ids: this.hands.ids, afterMoving: async () => undefined }, moves, moving);
		const all = new Map(pieces.map((piece) => [piece.id, piece]));
		for (const piece of [...householdPieces(moves), ...(await followersOf(tx, moves))]) all.set(piece.id, piece);
		const jars = [...all.values()].filter(({ kind }) => kind === "jar");
		for (const task of await tasksAbout(tx, new Map(jars.map((jar) => [jar.id, jar])))) all.set(task.id, task);
		await changeHands(tx, this.hands, [...all.values()], moving);
		return counted([...all.values()]);
	}

	private note(
		tx: Transaction,
		{ id, code, areaId }: Away,
		{ actor, nowMs }: Moving,
		action: string,
		detail: Record<string, unknown>,
	) {
		return record(tx, this.hands.ids, [
			{ atMs: nowMs, actor, action, subjectKind: "person", subjectId: id, areaId, detail: { code, ...detail } },
		]);
	}
}

async function awayNamed(tx: Transaction, personCode: string): Promise<Away> {
	const [away] = await tx.query<Away & { role: string }>(
		`SELECT p.id, p.code, p.role, p.area_id, p.active, a.time_zone, s.area_id AS supervisor_area_id, x.id AS absence_id
		 FROM person p JOIN area a ON a.id = p.area_id LEFT JOIN person s ON s.id = p.supervisor_id
		 LEFT JOIN absence x ON x.person_id = p.id AND x.returned_at_ms IS NULL WHERE p.code = $1`,
		[personCode],
	);
	if (!away) throw new InputError("unknown-subject", "There is no volunteer with this code.", { status: 404 });
	if (away.role !== "volunteer")
		throw refusal(
			"not-allowed",
			`${personCode} is a ${away.role}; work is handed over for volunteers.`,
			"code",
			"must name a volunteer",
		);
	return away;
}

async function jarsAndTasksOf(tx: Transaction, fromId: string, toId: string): Promise<Piece[]> {
	const rows = await tx.query<{ kind: "jar" | "task"; id: string }>(
		`SELECT 'jar' AS kind, id FROM batch WHERE keeper_id = $1 AND state <> 'discarded'
		 UNION ALL SELECT 'task', id FROM task WHERE assignee_id = $2 AND state = 'open' ORDER BY 1, 2`,
		[fromId, fromId],
	);
	return rows.map(({ kind, id }) => ({ kind, id, fromId, toId }));
}

/** @returns what was given away because of an absence and is still with whom it was given to */
async function stillWithOthers(tx: Transaction, absenceId: string, backTo: string): Promise<Piece[]> {
	const rows = await tx.query<{ kind: Piece["kind"]; id: string; fromId: string }>(
		`SELECT DISTINCT o.kind, o.subject_id AS id, o.to_id AS from_id FROM handed_over o
		 LEFT JOIN household h ON o.kind = 'household' AND h.id = o.subject_id
		 LEFT JOIN batch b ON o.kind = 'jar' AND b.id = o.subject_id AND b.state <> 'discarded'
		 LEFT JOIN task t ON o.kind = 'task' AND t.id = o.subject_id AND t.state = 'open'
		 WHERE o.absence_id = $1 AND o.to_id = COALESCE(h.volunteer_id, b.keeper_id, t.assignee_id) ORDER BY 1, 2`,
		[absenceId],
	);
	return rows.map(({ kind, id, fromId }) => ({ kind, id, fromId, toId: backTo }));
}

function counted(pieces: readonly Piece[]): HandedOver {
	const count = (kind: Piece["kind"]) => pieces.filter((piece) => piece.kind === kind).length;
	return { households: count("household"), jars: count("jar"), tasks: count("task") };
}
