import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import type { PHClass } from "../science/contact-time.js";
import { doseMgPerL } from "../science/dose-volume.js";
import { useFromJar } from "../stock/moves.js";
import type { Calendars } from "../stock/places.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { plannedChecks } from "./check-plan.js";
import { type KnownContainer, waterNow } from "./containers.js";
import { asksForMoreBleach, type Fill, fillsOf, isFollowUp, keepFill, waitEndsMs } from "./fills.js";
import { jarStrengthAt } from "./jar-strength.js";
import type { ProtocolVersion } from "./protocol/accept.js";
import { versionsIn } from "./protocol/accept.js";
import { withCheckAtUse } from "./protocol/at-use.js";
import { protocolsKept } from "./protocol/followed.js";
import { fillAfterDose } from "./protocol/reading.js";
import type { DoseRow } from "./rows.js";

/** Bleach that somebody put into a container. */
export interface NewDose {
	readonly batchId: string;
	readonly dosedAtMs: number;
	readonly waterL: number;
	readonly bleachMl: number;
	/** Where a dose is open in the container already: new water, or more bleach into the same. */
	readonly into?: "new water" | "same water" | undefined;
	/** Null: somebody at the office wrote it down. */
	readonly byPersonId: string | null;
	readonly waterTemperatureC?: number | undefined;
	readonly pHClass?: PHClass | undefined;
}

export interface DoseTaken {
	readonly row: DoseRow;
	readonly leftInJarMl: number;
	/** The version that the water is judged by. */
	readonly protocol: ProtocolVersion;
	/** The reading counts from this instant on; none for a dose whose water is gone by now. */
	readonly waitEndsAtMs: number | null;
	/** When the water is looked at next; undefined: as it was. */
	readonly nextCheckAtMs: number | null | undefined;
	/** Whether nobody drinks before a reading has found the water fit. */
	readonly readBeforeDrinking: boolean;
}

interface Parts {
	readonly ids: Ids;
	readonly calendars: Calendars;
	readonly policy: Policy;
	readonly nowMs: number;
}

/**
 * Keeps that bleach was put into a container of water, takes it out of its jar, and says when the water is read.
 * @throws InputError `unknown-subject`, `time-in-future`, `time-before-made`, `invalid-input` (more water than the container holds),
 *   `more-than-held` (more bleach than the jar holds), `conflict` (a dose is open in it and nobody says whether the water is new; or more
 *   bleach into water of which no reading has asked for it)
 */
export async function takeDose(tx: Transaction, container: KnownContainer, dose: NewDose, parts: Parts): Promise<DoseTaken> {
	const { ids, calendars, policy, nowMs } = parts;
	refuseFuture(dose.dosedAtMs, nowMs, "/dosedAt");
	if (dose.waterL > container.volumeL)
		throw new InputError(
			"invalid-input",
			`The container holds ${container.volumeL} L; ${dose.waterL} L of water can't be in it.`,
			{
				problems: [{ at: "/waterL", message: `must be at most ${container.volumeL} (litres)` }],
			},
		);
	const jar = await jarStrengthAt(tx, calendars, dose.batchId, policy, dose.dosedAtMs);
	if (!jar)
		throw new InputError("unknown-subject", "There is no such batch, or none whose strength can be told.", { status: 404 });
	const id = ids.next();
	const { bleachMl, dosedAtMs, waterL } = dose;
	const leftInJarMl = await useFromJar(tx, ids, jar.id, {
		volumeMl: bleachMl,
		atMs: dosedAtMs,
		nowMs,
		byPersonId: dose.byPersonId,
		reference: id,
		at: { volume: "/bleachMl", time: "/dosedAt" },
	});
	const strengthGPerL = Math.max(0.1, jar.strength.medianGPerL);
	const row: DoseRow = {
		id,
		containerId: container.id,
		batchId: jar.id,
		dosedAtMs,
		waterL,
		bleachMl,
		doseMgPerL: doseMgPerL({ volumeMl: bleachMl, waterVolumeL: waterL, strengthGPerL }),
		state: "open",
	};
	const fill = (await fillsOf(tx, [container.id])).get(container.id);
	const kept = await protocolsKept(tx, ids, [container.householdId], nowMs);
	const followed = kept.get(container.householdId) as ProtocolVersion;
	const goneAtMs = dosedAtMs + (container.habits.refillEveryHours ?? policy.water.refillHours) * HOUR_MS;
	const isLate = goneAtMs <= nowMs || (fill?.dosedAtMs ?? Number.NEGATIVE_INFINITY) > dosedAtMs;
	const taken = isLate
		? await writtenLate(tx, row, followed, goneAtMs)
		: await opened(tx, container, row, fill, followed, dose, parts);
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor: dose.byPersonId ?? "office",
			action: "dose recorded",
			subjectKind: "container",
			subjectId: container.id,
			areaId: container.areaId,
			detail: {
				doseId: id,
				jar: jar.code,
				bleachMl,
				waterL,
				doseMgPerL: Math.round(row.doseMgPerL * 1000) / 1000,
				protocol: `${taken.protocol.code} ${taken.protocol.version}`,
				...(isLate ? { writtenDownLate: true } : {}),
			},
		},
	]);
	return { row: { ...row, state: isLate ? "closed" : "open" }, leftInJarMl, ...taken };
}

type Taken = Omit<DoseTaken, "row" | "leftInJarMl">;

/** Its water has been refilled since, or dosed since: it counts for stock and history, and nothing follows. */
async function writtenLate(tx: Transaction, row: DoseRow, protocol: ProtocolVersion, goneAtMs: number): Promise<Taken> {
	await insert(tx, { ...row, state: "closed", endedAtMs: goneAtMs, endedBecause: "written down late" });
	return { protocol, waitEndsAtMs: null, nextCheckAtMs: undefined, readBeforeDrinking: false };
}

async function opened(
	tx: Transaction,
	container: KnownContainer,
	row: DoseRow,
	fill: Fill | undefined,
	followed: ProtocolVersion,
	dose: NewDose,
	{ policy, nowMs }: Parts,
): Promise<Taken> {
	const isOpen = fill?.dosedAtMs != null;
	if (isOpen && dose.into === undefined) throw stillOpen(container, fill);
	const again = isOpen && dose.into === "same water";
	const [before] = fill ? [(await versionsIn(tx, [fill.protocolVersionId])).get(fill.protocolVersionId)] : [];
	const protocol = again && before ? before : followed;
	const asked = asksForMoreBleach(withCheckAtUse(protocol.body, policy.water.leastAtUseMgPerL), fill?.soFar ?? null);
	if (again && !asked) throw notAskedFor(container);
	if (isOpen)
		await tx.affected("UPDATE dose SET state = 'closed', ended_at_ms = $2, ended_because = $3 WHERE id = $1 AND state = 'open'", [
			fill.doseId,
			row.dosedAtMs,
			again ? "next dose" : "refilled",
		]);
	if (!(await insert(tx, row))) throw stillOpen(container, fill);
	const water = { waterTemperatureC: dose.waterTemperatureC ?? waterNow(container, row.dosedAtMs).temperatureC };
	const soFar =
		again && fill.soFar
			? fill.soFar
			: fillAfterDose(protocol.body, { ...water, ...(dose.pHClass ? { pHClass: dose.pHClass } : {}) });
	const next = {
		containerId: container.id,
		doseId: row.id,
		protocolVersionId: protocol.id,
		soFar,
		waitingSinceMs: row.dosedAtMs,
	};
	await keepFill(tx, next);
	const waitEndsAtMs = waitEndsMs(next);
	const readBeforeDrinking = protocol.body.drinkFrom === "fitReading" || isFollowUp(soFar);
	const isFirst = !readBeforeDrinking && !(await hasCountedReading(tx, container.id));
	// What a container's water does to chlorine is learned at its first fill; later fills are forecast from it. Own choice.
	const nextCheckAtMs =
		readBeforeDrinking || isFirst
			? waitEndsAtMs
			: ((await plannedChecks(tx, [container], policy, nowMs)).get(container.id)?.dueAtMs ?? null);
	return { protocol, waitEndsAtMs, nextCheckAtMs, readBeforeDrinking };
}

async function hasCountedReading(tx: Transaction, containerId: string): Promise<boolean> {
	const rows = await tx.query(
		"SELECT id FROM residual_check WHERE container_id = $1 AND (flags IS NULL OR flags NOT LIKE '%too early%') LIMIT 1",
		[containerId],
	);
	return rows.length > 0;
}

/** @returns false where somebody else's dose came first at the same moment */
async function insert(tx: Transaction, row: DoseRow): Promise<boolean> {
	const values = [row.id, row.containerId, row.batchId, row.dosedAtMs, row.waterL, row.bleachMl, row.doseMgPerL];
	const added = await tx.affected(
		`INSERT INTO dose (id, container_id, batch_id, dosed_at_ms, water_l, bleach_ml, dose_mg_per_l, state, ended_at_ms, ended_because)
		 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (container_id) WHERE state = 'open' DO NOTHING`,
		[...values, row.state, row.endedAtMs ?? null, row.endedBecause ?? null],
	);
	return added > 0;
}

function stillOpen({ code }: KnownContainer, fill: Fill | undefined): InputError {
	const since = fill?.dosedAtMs ? ` of ${new Date(fill.dosedAtMs).toISOString()}` : "";
	return new InputError(
		"conflict",
		`A dose${since} is open in container ${code}: two can't be. Say whether the water is new, or whether more bleach went into the same.`,
		{
			status: 409,
			problems: [{ at: "/into", message: 'must be "new water" or "same water" while a dose is open in the container' }],
		},
	);
}

function notAskedFor({ code }: KnownContainer): InputError {
	return new InputError(
		"conflict",
		`No reading of the water in container ${code} has asked for more bleach. Read it first: a second dose blindly may make it unfit.`,
		{ status: 409, problems: [{ at: "/into", message: 'must be "new water", or a reading must come first' }] },
	);
}
