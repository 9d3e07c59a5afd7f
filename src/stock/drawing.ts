import { InputError } from "../errors/errors.js";
import type { Wall } from "../science/exposure.js";
import { isTaken, type Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { stockChanged } from "./due-work.js";
import { type NewPlace, standing } from "./handing-over.js";
import { addMoves, jarOnLedger, microlitres, refuseWrongTime, type TakenOut, takeOut, UL_PER_L, UL_PER_ML } from "./moves.js";
import { BatchRow, JarStayRow } from "./rows.js";

/** The jar that bleach is drawn into, and where it will stand. */
export interface DrawnInto extends NewPlace {
	/** Of a new jar, or of one on file that is empty. */
	readonly code: string;
	/** Left out: as the jar that it is drawn from. */
	readonly wall?: Wall;
	readonly litAreaM2?: number;
}

/**
 * Draws bleach off into another jar, which inherits strength, age and tests; its forecast is the caller's to refresh.
 * @returns the id of the jar that was filled
 * @throws InputError as `useFromJar`; `conflict` where the other jar isn't empty or has been discarded
 */
export async function drawOff(tx: Transaction, ids: Ids, fromJarId: string, into: DrawnInto, out: TakenOut): Promise<string> {
	const volumeUl = microlitres(out.volumeMl, out.at?.volume ?? "/volumeMl");
	const from = await jarOnLedger(tx, fromJarId, out.nowMs);
	refuseWrongTime(from, out, out.at?.time ?? "/at");
	const source = await standing(tx, ids, from, out.nowMs);
	const empty = await emptyJar(tx, into.code, out);
	const fill = empty ? (empty.fill ?? 1) + 1 : 1;
	const row: BatchRow = {
		...source,
		id: empty?.id ?? ids.next(),
		code: into.code,
		areaId: into.areaId,
		keeperId: into.keeperId,
		householdId: into.householdId,
		wall: into.wall ?? empty?.wall ?? source.wall,
		exposure: into.exposure ?? source.exposure,
		litAreaM2: into.litAreaM2 ?? empty?.litAreaM2 ?? source.litAreaM2,
		volumeL: volumeUl / UL_PER_L,
		state: "in use",
		drawnFromId: fromJarId,
		drawnAtMs: out.atMs,
		heldUl: volumeUl,
		fill,
		setAsideUntilMs: null,
	};
	if (!empty) await insertNew(tx, row);
	await takeOut(tx, ids, fromJarId, "drawn out", { ...out, volumeMl: volumeUl / UL_PER_ML, otherJarId: row.id });
	if (empty) await refill(tx, row);
	const { atMs, nowMs: recordedAtMs, byPersonId, reference = null } = out;
	await addMoves(tx, [
		{
			id: ids.next(),
			jarId: row.id,
			kind: "drawn in",
			volumeUl,
			atMs,
			recordedAtMs,
			byPersonId,
			otherJarId: fromJarId,
			reference,
		},
	]);
	await inheritStays(tx, ids, source, from.fill, row);
	await stockChanged(tx, [row.id], out.nowMs);
	return row.id;
}

/** @returns the empty jar of that code; nothing where the code is new */
async function emptyJar(tx: Transaction, code: string, { at, atMs }: TakenOut): Promise<BatchRow | undefined> {
	const jar = await tx.manager.findOneBy(BatchRow, { code });
	if (!jar) return undefined;
	const refusal = (message: string, right: string) =>
		new InputError("conflict", message, { status: 409, problems: [{ at: at?.into ?? "/into/code", message: right }] });
	if (jar.state === "discarded")
		throw refusal(`Jar ${code} has been discarded; it isn't filled any more.`, "must be a new code or an empty jar's");
	if (jar.state !== "empty" || jar.heldUl !== 0) {
		const heldMl = (jar.heldUl ?? Math.round(jar.volumeL * UL_PER_L)) / UL_PER_ML;
		throw refusal(
			`Jar ${code} isn't empty: it holds ${heldMl} mL. Two makings in one jar can't be forecast.`,
			"must be a new code or an empty jar's",
		);
	}
	const [last] = await tx.query<{ atMs: number }>("SELECT MAX(at_ms) AS at_ms FROM stock_move WHERE jar_id = $1", [jar.id]);
	if (last && last.atMs > atMs)
		throw refusal(
			`Jar ${code} was emptied at ${new Date(last.atMs).toISOString()}; it can't have been filled before.`,
			"must be a jar that was empty by then",
		);
	return jar;
}

async function insertNew(tx: Transaction, row: BatchRow): Promise<void> {
	try {
		await tx.manager.insert(BatchRow, row);
	} catch (error) {
		if (!isTaken(error, "batch_code")) throw error;
		throw new InputError("conflict", `Jar ${row.code} has just been put on file by somebody else.`, {
			status: 409,
			cause: error,
		});
	}
}

/** Only where it is still empty: two who fill it at once would each believe that it holds theirs. */
async function refill(tx: Transaction, row: BatchRow): Promise<void> {
	const { id, ...fields } = row;
	const { affected } = await tx.manager.update(BatchRow, { id, state: "empty", heldUl: 0 }, fields as object);
	if (affected === 0) throw new InputError("conflict", `Jar ${row.code} has just been filled by somebody else.`, { status: 409 });
}

/** Until the drawing the bleach stood where the other jar stood; from then on here. */
async function inheritStays(tx: Transaction, ids: Ids, source: BatchRow, fromFill: number, row: BatchRow): Promise<void> {
	const fill = row.fill ?? 1;
	const drawnAtMs = row.drawnAtMs as number;
	const earlier = await tx.manager.find(JarStayRow, {
		where: { jarId: source.id, fill: fromFill },
		order: { sinceMs: "ASC", id: "ASC" },
	});
	const inherited = earlier.filter(({ sinceMs }) => sinceMs < drawnAtMs || sinceMs === source.madeAtMs);
	const { areaId, keeperId, householdId = null, wall, exposure, volumeL, litAreaM2 } = row;
	const last = inherited.at(-1) as JarStayRow;
	const own = { ...last, inJarId: row.id, sinceMs: drawnAtMs, areaId, keeperId, householdId, wall, exposure, volumeL, litAreaM2 };
	await tx.manager.insert(
		JarStayRow,
		[...inherited, own].map((stay) => ({ ...stay, id: ids.next(), jarId: row.id, fill })),
	);
}
