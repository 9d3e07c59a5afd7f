import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { distanceKm } from "../science/visit-times.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { type AfterMoving, moveHouseholds } from "./moves.js";
import { assertStandsOver, refusal, volunteerNamed } from "./people.js";
import { closedAlready, type Proposal, proposalIn } from "./proposals.js";
import { assertRoomKept } from "./stated-room.js";
import { assertSame, type ReadVersion } from "./version.js";

interface Line {
	readonly householdId: string;
	readonly fromId: string | null;
	readonly toId: string | null;
}

/** What a supervisor makes of a proposal: she changes lines by hand, and accepts it whole. */
export class Decisions {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly afterMoving: AfterMoving,
	) {}

	/**
	 * Gives a household of an open proposal to another volunteer, or leaves it as it is (null).
	 * @returns the version of the proposal now
	 * @throws InputError `unknown-subject`, `not-allowed`, `conflict` (409 where it isn't open, 412 where it was changed since it was read)
	 */
	changeLine(id: string, householdCode: string, volunteerCode: string | null, read: ReadVersion): Promise<number> {
		return this.store.work.run(async (tx) => {
			const proposal = await this.open(tx, id, read);
			const to = volunteerCode === null ? null : await volunteerNamed(tx, volunteerCode, "/volunteerCode");
			const [line] = await tx.query<{ householdId: string; toId: string | null } & Place>(
				`SELECT l.household_id, l.to_id, COALESCE(h.latitude_deg, a.latitude_deg) AS latitude_deg, COALESCE(h.longitude_deg, a.longitude_deg) AS longitude_deg
				 FROM assignment_proposal_line l JOIN household h ON h.id = l.household_id JOIN area a ON a.id = h.area_id
				 WHERE l.proposal_id = $1 AND h.code = $2`,
				[id, householdCode],
			);
			if (!line)
				throw refusal(
					"unknown-subject",
					"This proposal has no household with this code.",
					"household",
					"is no household of this proposal",
					404,
				);
			const km = to ? Math.round(distanceKm(line, await placeOf(tx, to.id)) * 100) / 100 : null;
			await tx.affected(
				"UPDATE assignment_proposal_line SET to_id = $3, to_km = $4, state = 'by hand' WHERE proposal_id = $1 AND household_id = $2",
				[id, line.householdId, to?.id ?? null, km],
			);
			const about = { subjectKind: "assignment proposal", subjectId: id, areaId: proposal.areaId };
			const detail = { householdId: line.householdId, beforeId: line.toId, afterId: to?.id ?? null };
			const action = "proposed assignment changed by hand";
			await record(tx, this.ids, [{ ...about, atMs: this.clock.nowMs(), actor: "office", action, detail }]);
			return this.moveOn(tx, proposal, "version = version + 1", []);
		});
	}

	/**
	 * Does all that an open proposal says, in one unit of work: households, the jars that stand in them, open tasks, and the people are told.
	 * Households that are left over stay as they are.
	 * @returns how many households changed hands
	 * @throws InputError `conflict` (409 where it isn't open, or households or volunteers have changed since; 412 where it was changed since
	 * it was read), `not-allowed` (more than a volunteer has said that she can take on; a supervisor of another area)
	 */
	accept(id: string, read: ReadVersion, byCode?: string): Promise<{ proposal: Proposal; moved: number; actor: string }> {
		return this.store.work.run(async (tx) => {
			const proposal = await this.open(tx, id, read);
			const actor = byCode ? await assertStandsOver(tx, byCode, [proposal.areaId], "/byPersonCode") : "office";
			const nowMs = this.clock.nowMs();
			const lines = await tx.query<Line>(
				"SELECT household_id, from_id, to_id FROM assignment_proposal_line WHERE proposal_id = $1 AND to_id IS NOT NULL ORDER BY household_id",
				[id],
			);
			await assertAtWork(tx, id);
			await this.moveOn(tx, proposal, "state = 'accepted', version = version + 1, closed_at_ms = $3", [nowMs]);
			await tx.affected(
				"UPDATE assignment_proposal_line SET state = 'applied' WHERE proposal_id = $1 AND to_id IS NOT NULL AND to_id IS DISTINCT FROM from_id",
				[id],
			);
			const moving = { actor, nowMs, because: `proposal ${id}`, absenceId: proposal.absenceId ?? undefined };
			const moved = await moveHouseholds(tx, { ids: this.ids, afterMoving: this.afterMoving }, lines, moving);
			await assertRoomKept(tx, [
				...new Set(lines.flatMap(({ fromId, toId }) => (toId !== null && toId !== fromId ? [toId] : []))),
			]);
			await record(tx, this.ids, [
				{
					atMs: nowMs,
					actor,
					action: "assignment accepted",
					subjectKind: "assignment proposal",
					subjectId: id,
					areaId: proposal.areaId,
					detail: { moved },
				},
			]);
			return { proposal, moved, actor };
		});
	}

	private async open(tx: Transaction, id: string, read: ReadVersion): Promise<Proposal> {
		const proposal = await proposalIn(tx, id, this.clock.nowMs());
		if (proposal.state !== "open") throw closedAlready(proposal.state);
		assertSame(read, String(proposal.version), "The proposal");
		return proposal;
	}

	/** Two decisions at once: the later one finds that the version has moved on. */
	private async moveOn(
		tx: Transaction,
		{ id, version }: Proposal,
		changes: string,
		parameters: readonly unknown[],
	): Promise<number> {
		const changed = await tx.affected(
			`UPDATE assignment_proposal SET ${changes} WHERE id = $1 AND version = $2 AND state = 'open'`,
			[id, version, ...parameters],
		);
		if (changed === 0) assertSame(String(version), "", "The proposal");
		return version + 1;
	}
}

interface Place {
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

/** @returns where a person's rounds begin: her own place, else the middle of her area */
export async function placeOf(from: Pick<Transaction, "query">, personId: string): Promise<Place> {
	const [place] = await from.query<Place>(
		`SELECT COALESCE(c.latitude_deg, a.latitude_deg) AS latitude_deg, COALESCE(c.longitude_deg, a.longitude_deg) AS longitude_deg
		 FROM person p JOIN area a ON a.id = p.area_id LEFT JOIN volunteer_capacity c ON c.person_id = p.id WHERE p.id = $1`,
		[personId],
	);
	return place as Place;
}

async function assertAtWork(tx: Transaction, proposalId: string): Promise<void> {
	const gone = await tx.query<{ code: string }>(
		`SELECT DISTINCT p.code FROM assignment_proposal_line l JOIN person p ON p.id = l.to_id WHERE l.proposal_id = $1 AND NOT p.active ORDER BY p.code`,
		[proposalId],
	);
	if (gone.length === 0) return;
	throw new InputError(
		"conflict",
		`${gone.map(({ code }) => code).join(", ")} aren't at work any more; give their households to others, or ask for a new proposal.`,
		{
			status: 409,
			problems: gone.slice(0, 100).map(({ code }) => ({ at: "", message: `volunteer ${code} isn't at work` })),
		},
	);
}
