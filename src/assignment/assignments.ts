import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { type AfterMoving, type HouseholdMove, moveHouseholds } from "./moves.js";
import { areaNamed, assertStandsOver, volunteerNamed } from "./people.js";
import { assertRoom } from "./stated-room.js";
import { assertSame, type ReadVersion, tagOf } from "./version.js";

/** Who looks after a household, and whom it needs. */
export interface HouseholdAssignment {
	readonly householdCode: string;
	readonly volunteerCode: string | null;
	/** BCP 47. */
	readonly language: string | null;
	readonly staysWithCode: string | null;
}

export interface WantedAssignment {
	readonly volunteerCode: string | null;
	/** Left out: as it is. */
	readonly language?: string | null | undefined;
	readonly staysWithCode?: string | null | undefined;
	/** The supervisor who assigns; none: somebody at the office. */
	readonly byCode?: string | undefined;
}

interface Stored extends HouseholdAssignment {
	readonly id: string;
	readonly areaId: string;
	readonly volunteerId: string | null;
	readonly staysWithId: string | null;
}

/** Households are given to volunteers by hand: one, or all of an area. */
export class Assignments {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly afterMoving: AfterMoving,
	) {}

	/** @throws InputError `unknown-subject` (404) */
	async of(householdCode: string): Promise<{ assignment: HouseholdAssignment; tag: string }> {
		return tagged(await storedOf(this.store, householdCode));
	}

	/**
	 * Gives a household to a volunteer, or to nobody.
	 * @throws InputError `unknown-subject`, `not-allowed` (a supervisor of another area, a volunteer who is away, more than she can take on),
	 * `conflict` (412) where somebody changed it since it was read
	 */
	assign(
		householdCode: string,
		wanted: WantedAssignment,
		read: ReadVersion,
	): Promise<{ assignment: HouseholdAssignment; tag: string }> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const household = await lockedOf(tx, householdCode);
			assertSame(read, tagged(household).tag, `Who looks after household ${householdCode}`);
			const actor = wanted.byCode ? await assertStandsOver(tx, wanted.byCode, [household.areaId], "/byPersonCode") : "office";
			const to = wanted.volunteerCode === null ? null : await volunteerNamed(tx, wanted.volunteerCode, "/volunteerCode");
			const stays = wanted.staysWithCode ? await volunteerNamed(tx, wanted.staysWithCode, "/staysWithCode") : null;
			if (to && to.id !== household.volunteerId) await assertRoom(tx, to, [household.id], "/volunteerCode");
			const language = wanted.language === undefined ? household.language : wanted.language;
			const staysWithId = wanted.staysWithCode === undefined ? household.staysWithId : (stays?.id ?? null);
			if (language !== household.language || staysWithId !== household.staysWithId) {
				await writeCare(tx, household.id, { language, staysWithId }, nowMs);
				await record(tx, this.ids, [
					{
						atMs: nowMs,
						actor,
						action: "household's needs changed",
						subjectKind: "household",
						subjectId: household.id,
						areaId: household.areaId,
						detail: { code: householdCode, language, staysWithId },
					},
				]);
			}
			const move = { householdId: household.id, fromId: household.volunteerId, toId: to?.id ?? null };
			await moveHouseholds(tx, this.parts, [move], { actor, nowMs, because: "by hand" });
			return tagged(await storedOf(tx, householdCode));
		});
	}

	/**
	 * Gives the households of an area and of those below it to one volunteer.
	 * @param onlyWithout those that nobody looks after yet
	 * @returns how many changed hands
	 */
	assignArea(
		areaCode: string,
		wanted: { readonly volunteerCode: string; readonly onlyWithout: boolean; readonly byCode?: string | undefined },
		read: ReadVersion,
	): Promise<number> {
		return this.store.work.run(async (tx) => {
			const area = await areaNamed(tx, areaCode, "code", 404);
			const households = await householdsIn(tx, area.id, true);
			assertSame(read, areaTag(households), `Who looks after area ${areaCode}`);
			const actor = wanted.byCode ? await assertStandsOver(tx, wanted.byCode, [area.id], "/byPersonCode") : "office";
			const to = await volunteerNamed(tx, wanted.volunteerCode, "/volunteerCode");
			const hers = households.filter(({ volunteerId }) => (wanted.onlyWithout ? volunteerId === null : volunteerId !== to.id));
			await assertRoom(
				tx,
				to,
				hers.map(({ id }) => id),
				"/volunteerCode",
			);
			const moves = hers.map(({ id, volunteerId }) => ({ householdId: id, fromId: volunteerId, toId: to.id }));
			return moveHouseholds(tx, this.parts, moves, { actor, nowMs: this.clock.nowMs(), because: `area ${areaCode} by hand` });
		});
	}

	/**
	 * Gives households that somebody chose from a list to one volunteer, or to nobody: all of them, or none.
	 * @param chosen each with whom the list said looks after it; none: nobody
	 * @returns how many changed hands
	 * @throws InputError `unknown-subject`, `not-allowed` (a volunteer who is away, more than she can take on), `conflict` (409) that names
	 * the households which somebody else has given away since
	 */
	assignChosen(
		chosen: readonly { readonly householdCode: string; readonly volunteerCode: string | null }[],
		toCode: string | null,
	): Promise<number> {
		return this.store.work.run(async (tx) => {
			const to = toCode === null ? null : await volunteerNamed(tx, toCode, "/volunteerCode");
			const moves: HouseholdMove[] = [];
			const changed: string[] = [];
			// Always in one order: two who choose the same ones wait for each other once.
			for (const { householdCode, volunteerCode } of chosen.toSorted((a, b) => (a.householdCode < b.householdCode ? -1 : 1))) {
				const { id, volunteerId, ...now } = await lockedOf(tx, householdCode);
				if (now.volunteerCode !== volunteerCode) changed.push(`${householdCode} (now with ${now.volunteerCode ?? "nobody"})`);
				moves.push({ householdId: id, fromId: volunteerId, toId: to?.id ?? null });
			}
			if (changed.length > 0)
				throw new InputError("conflict", `Somebody else has given households away meanwhile: ${changed.join(", ")}.`, {
					status: 409,
				});
			const coming = moves.flatMap(({ householdId, fromId, toId }) => (fromId === toId ? [] : [householdId]));
			if (to) await assertRoom(tx, to, coming, "/volunteerCode");
			return moveHouseholds(tx, this.parts, moves, { actor: "office", nowMs: this.clock.nowMs(), because: "by hand" });
		});
	}

	/** @returns the tag of who looks after the households of an area and of those below it */
	async areaTag(areaId: string): Promise<string> {
		return areaTag(await householdsIn(this.store, areaId));
	}

	private get parts() {
		return { ids: this.ids, afterMoving: this.afterMoving };
	}
}

export async function writeCare(
	tx: Transaction,
	householdId: string,
	{ language, staysWithId }: { readonly language: string | null; readonly staysWithId: string | null },
	nowMs: number,
): Promise<void> {
	await tx.affected(
		`INSERT INTO household_care (household_id, language, stays_with_id, changed_at_ms) VALUES ($1, $2, $3, $4)
		 ON CONFLICT (household_id) DO UPDATE SET language = excluded.language, stays_with_id = excluded.stays_with_id, changed_at_ms = excluded.changed_at_ms`,
		[householdId, language, staysWithId, nowMs],
	);
}

type Reading = Pick<Transaction, "query" | "kind">;

/** Locks a household before it is read: a statement that locks and joins at once would join what stood there before it waited. */
async function lockedOf(tx: Transaction, code: string): Promise<Stored> {
	if (tx.kind === "postgres") await tx.query("SELECT id FROM household WHERE code = $1 FOR UPDATE", [code]);
	return storedOf(tx, code);
}

async function storedOf(from: Pick<Transaction, "query">, code: string): Promise<Stored> {
	const [row] = await from.query<Stored>(
		`SELECT h.id, h.code AS household_code, h.area_id, h.volunteer_id, v.code AS volunteer_code, c.language, c.stays_with_id, s.code AS stays_with_code
		 FROM household h LEFT JOIN person v ON v.id = h.volunteer_id LEFT JOIN household_care c ON c.household_id = h.id
		 LEFT JOIN person s ON s.id = c.stays_with_id WHERE h.code = $1`,
		[code],
	);
	if (!row) throw new InputError("unknown-subject", "There is no household with this code.", { status: 404 });
	return row;
}

function tagged({ householdCode, volunteerCode, language, staysWithCode }: Stored) {
	const assignment: HouseholdAssignment = { householdCode, volunteerCode, language, staysWithCode };
	return { assignment, tag: tagOf(assignment) };
}

type InArea = { readonly id: string; readonly volunteerId: string | null };

function householdsIn(from: Reading, areaId: string, lock = false): Promise<InArea[]> {
	return from.query<InArea>(
		`SELECT id, volunteer_id FROM household WHERE area_id IN (WITH RECURSIVE below(id) AS (SELECT id FROM area WHERE id = $1
		 UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id) SELECT id FROM below) ORDER BY id ${lock && from.kind === "postgres" ? "FOR UPDATE" : ""}`,
		[areaId],
	);
}

const areaTag = (households: readonly InArea[]): string => tagOf(households.map(({ id, volunteerId }) => [id, volunteerId]));
