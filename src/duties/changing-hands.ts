import type { AfterMoving, HouseholdMove, Moving } from "../assignment/moves.js";
import { record } from "../ledger/ledger.js";
import { type NewMessage, withdrawMessages } from "../messages/outbox.js";
import { post, tellOfWork, type Wake } from "../messages/wake.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import { needChanged } from "../stock/due-work.js";
import { placeholders, valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import type { Brief } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { ladderOf, stepAtMs } from "./ladder.js";
import { notBeforeMs, type Reachable, reachablePeople } from "./reachable.js";

/** One thing that changes hands; a household has done so already. */
export interface Piece {
	readonly kind: "household" | "jar" | "generator" | "task";
	readonly id: string;
	readonly fromId: string | null;
	readonly toId: string;
}

export interface HandsParts {
	readonly ids: Ids;
	readonly kinds: DutyKinds;
	readonly wake: Wake;
}

const PAGE = 400;

/** What follows households to their new volunteers: the jars that stand in them and the open tasks about either. */
export function followingHouseholds(parts: HandsParts): AfterMoving {
	return async (tx, moves, moving) => {
		const followers = await followersOf(tx, moves);
		await changeHands(tx, parts, [...householdPieces(moves), ...followers], moving);
		// Whose households are more or fewer needs more or less bleach.
		const volunteers = moves.flatMap(({ fromId, toId }) => [fromId ?? [], toId ?? []].flat());
		await needChanged(tx, volunteers, moving.nowMs);
	};
}

export function householdPieces(moves: readonly HouseholdMove[]): Piece[] {
	return moves.flatMap(({ householdId, fromId, toId }) =>
		toId === null ? [] : [{ kind: "household" as const, id: householdId, fromId, toId }],
	);
}

/** @returns the jars that stand in these households with their volunteer, and her open tasks about the households, their containers and those jars */
export async function followersOf(tx: Transaction, moves: readonly HouseholdMove[]): Promise<Piece[]> {
	const pieces: Piece[] = [];
	const real = moves.filter(({ fromId, toId }) => fromId !== null && toId !== null);
	for (let from = 0; from < real.length; from += PAGE) {
		const page = new Map(real.slice(from, from + PAGE).map((move) => [move.householdId, move]));
		const places = placeholders(page.size);
		const about = await tx.query<{
			kind: "jar" | "container" | "household";
			id: string;
			householdId: string;
			keeperId: string | null;
		}>(
			`SELECT 'jar' AS kind, id, household_id, keeper_id FROM batch WHERE household_id IN (${places}) AND state <> 'discarded'
			 UNION ALL SELECT 'container', id, household_id, NULL FROM container WHERE household_id IN (${places})`,
			[...page.keys()],
		);
		const moveOf = new Map([...page].map(([id, move]) => [id, move]));
		for (const { kind, id, householdId, keeperId } of about) {
			const { fromId, toId } = page.get(householdId) as HouseholdMove;
			moveOf.set(id, page.get(householdId) as HouseholdMove);
			if (kind === "jar" && keeperId === fromId && toId !== null) pieces.push({ kind: "jar", id, fromId, toId });
		}
		pieces.push(...(await tasksAbout(tx, moveOf)));
	}
	return pieces;
}

/** @returns the open tasks about subjects that change hands, of those who had the subjects */
export async function tasksAbout(
	tx: Transaction,
	moveOf: ReadonlyMap<string, Pick<HouseholdMove, "fromId" | "toId">>,
): Promise<Piece[]> {
	const pieces: Piece[] = [];
	const subjects = [...moveOf.keys()];
	for (let from = 0; from < subjects.length; from += PAGE) {
		const page = subjects.slice(from, from + PAGE);
		const tasks = await tx.query<{ id: string; subjectId: string; assigneeId: string | null }>(
			`SELECT id, subject_id, assignee_id FROM task WHERE state = 'open' AND subject_id IN (${placeholders(page.length)}) ORDER BY id`,
			page,
		);
		for (const { id, subjectId, assigneeId } of tasks) {
			const { fromId, toId } = moveOf.get(subjectId) as HouseholdMove;
			if (toId !== null && assigneeId === fromId) pieces.push({ kind: "task", id, fromId, toId });
		}
	}
	return pieces;
}

/**
 * Gives jars, generators and open tasks to other people, tells the new one of each task, and both of all that changed hands between them.
 * Tasks keep their codes; the ladder begins anew with the new person, who has heard nothing yet.
 */
export async function changeHands(tx: Transaction, parts: HandsParts, pieces: readonly Piece[], moving: Moving): Promise<void> {
	if (pieces.length === 0) return;
	for (const thing of THINGS) {
		const things = pieces.filter(({ kind }) => kind === thing.kind);
		for (let from = 0; from < things.length; from += PAGE)
			await moveThings(tx, parts, thing, things.slice(from, from + PAGE), moving);
	}
	const policy = await currentPolicy(tx);
	const tasks = pieces.filter(({ kind }) => kind === "task");
	const people = await reachablePeople(
		tx,
		pieces.flatMap(({ fromId, toId }) => [toId, ...(fromId === null ? [] : [fromId])]),
		true,
	);
	for (let from = 0; from < tasks.length; from += PAGE)
		await moveTasks(tx, parts, tasks.slice(from, from + PAGE), { ...moving, policy, people });
	await remember(tx, parts.ids, pieces, moving);
	await post(tx, parts.wake, told(parts.ids, pieces, people, moving));
}

/** What somebody keeps or runs, and the column that says who. */
const THINGS = [
	{ kind: "jar", table: "batch", column: "keeper_id", action: "jar handed over" },
	{ kind: "generator", table: "generator", column: "operator_id", action: "generator handed over" },
] as const;

async function moveThings(
	tx: Transaction,
	{ ids }: HandsParts,
	{ table, column, action }: (typeof THINGS)[number],
	things: readonly Piece[],
	moving: Moving,
): Promise<void> {
	const { text, parameters } = valuesOf(things.map(({ id, fromId, toId }) => [id, toId, fromId]));
	const moved = await tx.query<{ id: string; code: string; areaId: string; toId: string }>(
		`UPDATE ${table} SET ${column} = v.column2 FROM (VALUES ${text}) AS v WHERE ${table}.id = v.column1
		 AND ${table}.${column} IS NOT DISTINCT FROM CAST(v.column3 AS text) RETURNING ${table}.id, ${table}.code, ${table}.area_id, ${table}.${column} AS to_id`,
		parameters,
	);
	await record(
		tx,
		ids,
		moved.map(({ id, code, areaId, toId }) => ({
			atMs: moving.nowMs,
			actor: moving.actor,
			action,
			subjectKind: table,
			subjectId: id,
			areaId,
			detail: { code, toId, because: moving.because },
		})),
	);
}

interface MovingTasks extends Moving {
	readonly policy: Policy;
	readonly people: ReadonlyMap<string, Reachable>;
}

async function moveTasks(
	tx: Transaction,
	{ ids, kinds, wake }: HandsParts,
	tasks: readonly Piece[],
	moving: MovingTasks,
): Promise<void> {
	const { actor, nowMs, because, policy, people } = moving;
	const known = await tx.query<{ id: string; kind: string; brief: string }>(
		`SELECT id, kind, brief FROM task WHERE id IN (${placeholders(tasks.length)})`,
		tasks.map(({ id }) => id),
	);
	const isUrgent = new Map(known.map(({ id, kind, brief }) => [id, kinds.named(kind).isUrgent(JSON.parse(brief) as Brief)]));
	const kindOf = new Map(known.map(({ id, kind }) => [id, kind]));
	const fromMs = (id: string, person: Reachable | undefined) =>
		!person || (isUrgent.get(id) && policy.urgentBreaksQuietHours) ? nowMs : notBeforeMs(person, nowMs);
	const { text, parameters } = valuesOf(
		tasks.map(({ id, fromId, toId }) => {
			const person = people.get(toId);
			const beginMs = fromMs(id, person);
			const ladder = ladderOf(policy, kindOf.get(id) ?? "", isUrgent.get(id));
			return [id, toId, fromId, beginMs, stepAtMs(ladder, 0, beginMs, person)];
		}),
	);
	const moved = await tx.query<{ id: string; code: string; kind: string; areaId: string; assigneeId: string; brief: string }>(
		`UPDATE task SET assignee_id = v.column2, ladder_step = 0, ladder_from_ms = CAST(v.column4 AS bigint), next_step_at_ms = CAST(v.column5 AS bigint),
		        put_off_times = NULL, acknowledged_at_ms = NULL, acknowledged_by_id = NULL FROM (VALUES ${text}) AS v
		 WHERE task.id = v.column1 AND task.state = 'open' AND task.assignee_id IS NOT DISTINCT FROM CAST(v.column3 AS text)
		 RETURNING task.id, task.code, task.kind, task.area_id, task.assignee_id, task.brief`,
		parameters,
	);
	if (moved.length === 0) return;
	await withdrawMessages(
		tx,
		"task_id",
		moved.map(({ id }) => id),
		nowMs,
	);
	const messages = moved.flatMap(({ id, code, kind, assigneeId, brief }): NewMessage[] => {
		const person = people.get(assigneeId);
		if (!person) return [];
		const messageId = ids.next();
		return [
			{
				id: messageId,
				// She may have it a second time, when it comes back to her.
				idempotencyKey: `${id}.hands.${messageId}`,
				taskId: id,
				recipientId: assigneeId,
				text: kinds.named(kind).texts.first,
				fill: { ...(JSON.parse(brief) as Brief), code },
				urgent: isUrgent.get(id) ?? false,
				createdAtMs: nowMs,
				notBeforeMs: fromMs(id, person),
			},
		];
	});
	await tellOfWork(tx, wake, messages);
	await record(
		tx,
		ids,
		moved.map(({ id, code, kind, areaId, assigneeId }) => ({
			atMs: nowMs,
			actor,
			action: "task handed over",
			subjectKind: "task",
			subjectId: id,
			areaId,
			detail: { kind, code, toId: assigneeId, because },
		})),
	);
}

/** What was given away because of an absence can be given back. */
async function remember(tx: Transaction, ids: Ids, pieces: readonly Piece[], { absenceId, nowMs }: Moving): Promise<void> {
	if (absenceId === undefined) return;
	for (let from = 0; from < pieces.length; from += PAGE) {
		const { text, parameters } = valuesOf(
			pieces.slice(from, from + PAGE).map(({ kind, id, toId }) => [ids.next(), absenceId, kind, id, toId, nowMs]),
		);
		await tx.affected(`INSERT INTO handed_over (id, absence_id, kind, subject_id, to_id, at_ms) VALUES ${text}`, parameters);
	}
}

/** A message to each of the two, for each pair of people. */
function told(ids: Ids, pieces: readonly Piece[], people: ReadonlyMap<string, Reachable>, { nowMs }: Moving): NewMessage[] {
	const pairs = new Map<string, Piece[]>();
	for (const piece of pieces) {
		const key = JSON.stringify([piece.fromId, piece.toId]);
		pairs.set(key, [...(pairs.get(key) ?? []), piece]);
	}
	return [...pairs.values()].flatMap((between) => {
		const [{ fromId, toId }] = between as [Piece];
		const count = (kind: Piece["kind"]) => between.filter((piece) => piece.kind === kind).length;
		const generators = count("generator");
		const fill = {
			...{ households: count("household"), jars: count("jar"), tasks: count("task") },
			...(generators > 0 && { generators }),
		};
		const [from, to] = [people.get(fromId ?? ""), people.get(toId)];
		const message = (person: Reachable | undefined, text: string, filled: NewMessage["fill"]): NewMessage[] => {
			if (!person) return [];
			const id = ids.next();
			const common = { taskId: null, urgent: false, createdAtMs: nowMs, notBeforeMs: notBeforeMs(person, nowMs) };
			return [{ ...common, id, idempotencyKey: `hands.${id}`, recipientId: person.id, text, fill: filled }];
		};
		if (fromId === null) return message(to, "work.new", { households: fill.households });
		return [
			...message(to, generators > 0 ? "work.takenAll" : "work.taken", { ...fill, name: from?.name ?? "-" }),
			...message(from, generators > 0 ? "work.givenAll" : "work.given", { ...fill, name: to?.name ?? "-" }),
		];
	});
}
