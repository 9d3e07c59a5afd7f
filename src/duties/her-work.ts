import { type HouseholdMove, type Moving, moveHouseholds } from "../assignment/moves.js";
import { needChanged } from "../stock/due-work.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { changeHands, followersOf, type HandsParts, householdPieces, type Piece, tasksAbout } from "./changing-hands.js";

/** What changed hands. */
export interface HandedOver {
	readonly households: number;
	readonly jars: number;
	readonly generators: number;
	readonly tasks: number;
}

export const NOTHING: HandedOver = { households: 0, jars: 0, generators: 0, tasks: 0 };

/** @returns everything that a volunteer has, to be given to somebody else */
export async function everythingOf(tx: Transaction, fromId: string, toId: string): Promise<Piece[]> {
	const households = await tx.query<{ id: string }>("SELECT id FROM household WHERE volunteer_id = $1 ORDER BY code", [fromId]);
	return [
		...households.map(({ id }): Piece => ({ kind: "household", id, fromId, toId })),
		...(await besideHouseholds(tx, fromId, toId)),
	];
}

/** @returns her jars, the generators that she runs, and her open tasks, to be given to somebody else */
export async function besideHouseholds(tx: Transaction, fromId: string, toId: string): Promise<Piece[]> {
	const rows = await tx.query<{ kind: Piece["kind"]; id: string }>(
		`SELECT 'jar' AS kind, id FROM batch WHERE keeper_id = $1 AND state <> 'discarded'
		 UNION ALL SELECT 'generator', id FROM generator WHERE operator_id = $1
		 UNION ALL SELECT 'task', id FROM task WHERE assignee_id = $1 AND state = 'open' ORDER BY 1, 2`,
		[fromId],
	);
	return rows.map(({ kind, id }) => ({ kind, id, fromId, toId }));
}

/** @returns what was given away because of an absence and is still with whom it was given to */
export async function stillWithOthers(tx: Transaction, absenceId: string, backTo: string): Promise<Piece[]> {
	const rows = await tx.query<{ kind: Piece["kind"]; id: string; fromId: string }>(
		`SELECT DISTINCT o.kind, o.subject_id AS id, o.to_id AS from_id FROM handed_over o
		 LEFT JOIN household h ON o.kind = 'household' AND h.id = o.subject_id
		 LEFT JOIN batch b ON o.kind = 'jar' AND b.id = o.subject_id AND b.state <> 'discarded'
		 LEFT JOIN generator g ON o.kind = 'generator' AND g.id = o.subject_id
		 LEFT JOIN task t ON o.kind = 'task' AND t.id = o.subject_id AND t.state = 'open'
		 WHERE o.absence_id = $1 AND o.to_id = COALESCE(h.volunteer_id, b.keeper_id, g.operator_id, t.assignee_id) ORDER BY 1, 2`,
		[absenceId],
	);
	return rows.map(({ kind, id, fromId }) => ({ kind, id, fromId, toId: backTo }));
}

/** Gives all of it away in one go, with what follows the households, jars and generators, so that each person is told once. */
export async function moveAll(tx: Transaction, hands: HandsParts, pieces: readonly Piece[], moving: Moving): Promise<HandedOver> {
	const moves = pieces.flatMap(({ kind, id, fromId, toId }): HouseholdMove[] =>
		kind === "household" ? [{ householdId: id, fromId, toId }] : [],
	);
	await moveHouseholds(tx, { ids: hands.ids, afterMoving: async () => undefined }, moves, moving);
	const all = new Map(pieces.map((piece) => [piece.id, piece]));
	for (const piece of [...householdPieces(moves), ...(await followersOf(tx, moves))]) all.set(piece.id, piece);
	const kept = [...all.values()].filter(({ kind }) => kind === "jar" || kind === "generator");
	const subjects = new Map([...kept.map((piece) => [piece.id, piece] as const), ...(await batteriesOf(tx, kept))]);
	for (const task of await tasksAbout(tx, subjects)) all.set(task.id, task);
	await changeHands(tx, hands, [...all.values()], moving);
	const volunteers = moves.flatMap(({ fromId, toId }) => [fromId, toId]).filter((id) => id !== null);
	await needChanged(tx, volunteers, moving.nowMs);
	return counted([...all.values()]);
}

/** A battery goes with the generator that it feeds. */
async function batteriesOf(tx: Transaction, pieces: readonly Piece[]): Promise<(readonly [string, Piece])[]> {
	const generators = new Map(pieces.filter(({ kind }) => kind === "generator").map((piece) => [piece.id, piece]));
	if (generators.size === 0) return [];
	const rows = await tx.query<{ id: string; generatorId: string }>(
		`SELECT id, generator_id FROM battery WHERE generator_id IN (${placeholders(generators.size)})`,
		[...generators.keys()],
	);
	return rows.map(({ id, generatorId }) => [id, generators.get(generatorId) as Piece]);
}

export function counted(pieces: readonly Piece[]): HandedOver {
	const count = (kind: Piece["kind"]) => pieces.filter((piece) => piece.kind === kind).length;
	return { households: count("household"), jars: count("jar"), generators: count("generator"), tasks: count("task") };
}
