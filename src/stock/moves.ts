import { InputError } from "../errors/errors.js";
import { placeholders, valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { stockChanged } from "./due-work.js";
import type { BatchState, MoveKind } from "./rows.js";

/** What a move of bleach is decided by. */
export interface KnownJar {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly keeperId: string | null;
	readonly householdId: string | null;
	readonly state: BatchState;
	/** When the bleach came into this jar: its making, or the drawing. */
	readonly filledAtMs: number;
	readonly heldUl: number;
	/** Which filling of the jar it is, from 1. */
	readonly fill: number;
	/** Where it has stood since: the last handing over, or the filling. */
	readonly placedAtMs: number;
}

/** Bleach that leaves a jar. */
export interface TakenOut {
	readonly volumeMl: number;
	readonly atMs: number;
	readonly nowMs: number;
	/** Null: somebody at the office. */
	readonly byPersonId: string | null;
	/** What it was for: the id of a dose, or a few words. */
	readonly reference?: string | null;
	/** JSON Pointers for what is refused; `/volumeMl` and `/at` where left out. */
	readonly at?: { readonly volume: string; readonly time: string; readonly into?: string };
}

/** Microlitres in a litre and in a millilitre. */
export const UL_PER_L = 1_000_000;
export const UL_PER_ML = 1000;

/**
 * Takes what was used out of a jar, in the unit of work that keeps what it was used for.
 * @returns mL that are left
 * @throws InputError `unknown-subject`, `invalid-input` (nothing or less), `time-in-future`, `time-before-made`, `conflict` (a
 * discarded jar), `more-than-held`
 */
export async function useFromJar(tx: Transaction, ids: Ids, jarId: string, out: TakenOut): Promise<number> {
	return (await takeOut(tx, ids, jarId, "used", out)) / UL_PER_ML;
}

/** Takes bleach out of a jar. @returns microlitres that are left @throws InputError as `useFromJar` */
export async function takeOut(
	tx: Transaction,
	ids: Ids,
	jarId: string,
	kind: Extract<MoveKind, "used" | "spilt" | "drawn out">,
	out: TakenOut & { readonly otherJarId?: string },
): Promise<number> {
	const at = out.at ?? { volume: "/volumeMl", time: "/at" };
	const volumeUl = microlitres(out.volumeMl, at.volume);
	const jar = await jarOnLedger(tx, jarId, out.nowMs);
	refuseWrongTime(jar, out, at.time);
	const [left] = await tx.query<{ heldUl: number }>(
		`UPDATE batch SET held_ul = held_ul - $2, state = CASE WHEN held_ul = $2 THEN 'empty' ELSE state END
		 WHERE id = $1 AND held_ul >= $2 AND state <> 'discarded' RETURNING held_ul`,
		[jarId, volumeUl],
	);
	if (!left) throw tooMuch(await jarOnLedger(tx, jarId, out.nowMs), volumeUl, at.volume);
	await addMoves(tx, [
		{
			id: ids.next(),
			jarId,
			kind,
			volumeUl: -volumeUl,
			atMs: out.atMs,
			recordedAtMs: out.nowMs,
			byPersonId: out.byPersonId,
			otherJarId: out.otherJarId ?? null,
			reference: out.reference ?? null,
		},
	]);
	await stockChanged(tx, [jarId], out.nowMs);
	return left.heldUl;
}

/**
 * Pours away all that is left in a jar, which isn't used any more from then on.
 * @returns mL that were poured away: 0 where it was empty
 * @throws InputError `unknown-subject`, `time-in-future`, `time-before-made`, `conflict` where it has been discarded already
 */
export async function discardAll(tx: Transaction, ids: Ids, jarId: string, out: Omit<TakenOut, "volumeMl">): Promise<number> {
	const jar = await jarOnLedger(tx, jarId, out.nowMs);
	refuseWrongTime(jar, out, out.at?.time ?? "/at");
	const ended = await tx.affected(
		"UPDATE batch SET held_ul = 0, state = 'discarded' WHERE id = $1 AND held_ul = $2 AND state <> 'discarded'",
		[jarId, jar.heldUl],
	);
	// Somebody took some at the same moment: asked once more, the rest is poured away.
	if (ended === 0) return discardAll(tx, ids, jarId, out);
	await stockChanged(tx, [jarId], out.nowMs);
	if (jar.heldUl === 0) return 0;
	const { atMs, nowMs, byPersonId, reference } = out;
	const common = { id: ids.next(), jarId, atMs, recordedAtMs: nowMs, byPersonId, otherJarId: null, reference: reference ?? null };
	await addMoves(tx, [{ ...common, kind: "discarded", volumeUl: -jar.heldUl }]);
	return jar.heldUl / UL_PER_ML;
}

export interface NewMove {
	readonly id: string;
	readonly jarId: string;
	readonly kind: MoveKind;
	readonly volumeUl: number;
	readonly atMs: number;
	readonly recordedAtMs: number;
	readonly byPersonId: string | null;
	readonly otherJarId: string | null;
	readonly reference: string | null;
}

/** Adds lines; what the jars hold is the caller's to change in the same unit of work. One that is there by its id stays as it is. */
export async function addMoves(tx: Transaction, moves: readonly NewMove[]): Promise<void> {
	for (let from = 0; from < moves.length; from += 500) {
		const { text, parameters } = valuesOf(
			moves
				.slice(from, from + 500)
				.map((m) => [m.id, m.jarId, m.kind, m.volumeUl, m.atMs, m.recordedAtMs, m.byPersonId, m.otherJarId, m.reference]),
		);
		await tx.affected(
			`INSERT INTO stock_move (id, jar_id, kind, volume_ul, at_ms, recorded_at_ms, by_person_id, other_jar_id, reference)
			 VALUES ${text} ON CONFLICT (id) DO NOTHING`,
			parameters,
		);
	}
}

/** Writes the first line of jars that have none yet: what was made, or brought in by a file, is what they hold. */
export async function openLedger(tx: Transaction, jarIds: readonly string[], nowMs: number): Promise<void> {
	for (let from = 0; from < jarIds.length; from += 500) {
		const page = jarIds.slice(from, from + 500);
		const jars = await tx.query<{ id: string; madeAtMs: number; volumeL: number }>(
			`SELECT id, made_at_ms, volume_l FROM batch WHERE held_ul IS NULL AND id IN (${placeholders(page.length)})`,
			page,
		);
		const moves = jars.map(({ id, madeAtMs, volumeL }) => ({
			// One name for the line: two that open a jar at the same moment write it once.
			id: `${id}.made`,
			jarId: id,
			kind: "made" as const,
			volumeUl: Math.round(volumeL * UL_PER_L),
			atMs: madeAtMs,
			recordedAtMs: nowMs,
			byPersonId: null,
			otherJarId: null,
			reference: null,
		}));
		await addMoves(tx, moves);
		for (const { jarId, volumeUl } of moves)
			await tx.affected("UPDATE batch SET held_ul = $2 WHERE id = $1 AND held_ul IS NULL", [jarId, volumeUl]);
	}
}

/** @returns a jar whose first line is written @throws InputError `unknown-subject` */
export async function jarOnLedger(tx: Transaction, jarId: string, nowMs: number): Promise<KnownJar> {
	const [jar] = await tx.query<Omit<KnownJar, "heldUl"> & { heldUl: number | null }>(
		`SELECT id, code, area_id, keeper_id, household_id, state, COALESCE(drawn_at_ms, made_at_ms) AS filled_at_ms, held_ul, COALESCE(fill, 1) AS fill,
			COALESCE((SELECT MAX(since_ms) FROM jar_stay s WHERE s.jar_id = batch.id AND s.fill = COALESCE(batch.fill, 1)), made_at_ms) AS placed_at_ms
		 FROM batch WHERE id = $1`,
		[jarId],
	);
	if (!jar) throw new InputError("unknown-subject", "There is no such batch.", { status: 404 });
	if (jar.heldUl !== null) return { ...jar, heldUl: jar.heldUl };
	await openLedger(tx, [jarId], nowMs);
	return jarOnLedger(tx, jarId, nowMs);
}

/** @returns whole microlitres @throws InputError `invalid-input` for nothing, less than nothing or what isn't a number */
export function microlitres(volumeMl: number, at: string): number {
	const volumeUl = Math.round(volumeMl * UL_PER_ML);
	if (volumeUl >= 1 && volumeUl <= 1000 * UL_PER_L) return volumeUl;
	throw new InputError("invalid-input", `${volumeMl} mL can't be taken from a jar; more than 0 mL would be right.`, {
		problems: [{ at, message: "must be 0.001 to 1000000 (mL)" }],
	});
}

/** @throws InputError `time-in-future`, `time-before-made`, `conflict` where the jar has been discarded */
export function refuseWrongTime(jar: KnownJar, { atMs, nowMs }: Pick<TakenOut, "atMs" | "nowMs">, at: string): void {
	refuseFuture(atMs, nowMs, at);
	if (atMs < jar.filledAtMs) {
		const filledAt = new Date(jar.filledAtMs).toISOString();
		throw new InputError("time-before-made", `Jar ${jar.code} was filled at ${filledAt}; nothing left it before that.`, {
			problems: [{ at, message: `must not be before ${filledAt}` }],
		});
	}
	if (jar.state === "discarded")
		throw new InputError("conflict", `Jar ${jar.code} has been discarded; nothing is taken from it any more.`, { status: 409 });
}

export function tooMuch(jar: KnownJar, wantedUl: number, at: string): InputError {
	const [heldMl, wantedMl] = [jar.heldUl / UL_PER_ML, wantedUl / UL_PER_ML];
	return new InputError("more-than-held", `Jar ${jar.code} holds ${heldMl} mL; ${wantedMl} mL can't be taken from it.`, {
		problems: [{ at, message: `must be at most ${heldMl} (mL), which the jar holds` }],
	});
}
