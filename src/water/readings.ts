import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import type { PHClass } from "../science/contact-time.js";
import type { Calendars } from "../stock/places.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { plannedChecks } from "./check-plan.js";
import { type KnownContainer, waterNow } from "./containers.js";
import { type Fill, fillsOf, keepFill, waitEndsMs } from "./fills.js";
import { type ProtocolVersion, versionsIn } from "./protocol/accept.js";
import { withCheckAtUse } from "./protocol/at-use.js";
import { protocolsKept } from "./protocol/followed.js";
import type { Protocol } from "./protocol/protocol.js";
import { type FillSoFar, fillAtVisit, type WhatFollows, whatFollows } from "./protocol/reading.js";
import { type CheckFlag, ResidualCheckRow } from "./rows.js";

/** Free chlorine that somebody read in a container's water. */
export interface NewReading {
	readonly checkedAtMs: number;
	/** 0 to 50 mg/L; with `isOpenTop`, this or more. */
	readonly freeChlorineMgPerL: number;
	readonly isOpenTop?: boolean;
	readonly checkerId: string | null;
	readonly taskId: string | null;
	readonly waterTemperatureC?: number | undefined;
	readonly pHClass?: PHClass | undefined;
}

export interface ReadingTaken {
	readonly row: ResidualCheckRow;
	readonly protocol: ProtocolVersion;
	/** What it means and what follows; none for a reading of water that isn't in the container any more. */
	readonly follows: WhatFollows | null;
	/** When the water is looked at next; undefined: as it was. */
	readonly nextCheckAtMs: number | null | undefined;
	/** The container is cleaned from then on; none where the reading gives no reason for it. */
	readonly cleanAtMs: number | null;
}

interface Parts {
	readonly ids: Ids;
	readonly calendars: Calendars;
	readonly policy: Policy;
	readonly nowMs: number;
}

/** A dose is told of by a reading for so long; what is read later is water of which nobody has told us. */
const DOSE_COUNTS_MS = 72 * HOUR_MS;

/** @throws InputError `invalid-input`, `time-in-future` */
export async function takeReading(
	tx: Transaction,
	container: KnownContainer,
	reading: NewReading,
	{ ids, policy, nowMs }: Parts,
): Promise<ReadingTaken> {
	refuseFuture(reading.checkedAtMs, nowMs, "/checkedAt");
	if (!(reading.freeChlorineMgPerL >= 0 && reading.freeChlorineMgPerL <= 50))
		throw new InputError(
			"out-of-scale",
			`${reading.freeChlorineMgPerL} mg/L can't be read; dilute the sample, read again and multiply.`,
			{
				problems: [{ at: "/freeChlorineMgPerL", message: "must be 0 to 50 (mg/L)" }],
			},
		);
	const fill = (await fillsOf(tx, [container.id])).get(container.id);
	const protocol = await judgedBy(tx, ids, container, fill, nowMs);
	const dose = await doseBefore(tx, container.id, reading.checkedAtMs);
	const isEarlier =
		fill?.waitingSinceMs != null &&
		reading.checkedAtMs < fill.waitingSinceMs &&
		fill.dosedAtMs !== null &&
		reading.checkedAtMs < fill.dosedAtMs;
	const judged = isEarlier ? null : judgedReading(container, reading, fill, protocol.body, dose, policy);
	const flags = judged?.flags ?? ["of earlier water" as const];
	const row: ResidualCheckRow = {
		id: ids.next(),
		containerId: container.id,
		checkedAtMs: reading.checkedAtMs,
		recordedAtMs: nowMs,
		freeChlorineMgPerL: reading.freeChlorineMgPerL,
		hoursSinceDose: dose ? (reading.checkedAtMs - dose.dosedAtMs) / HOUR_MS : null,
		checkerId: reading.checkerId,
		doseId: dose?.id ?? null,
		protocolVersionId: protocol.id,
		moment: judged?.follows.check ?? null,
		band: judged?.follows.band ?? null,
		fitToDrink: !judged || judged.follows.tooEarly ? null : judged.follows.fitToDrink,
		flags,
		taskId: reading.taskId,
	};
	await tx.manager.insert(ResidualCheckRow, row as object);
	const follows = judged?.follows ?? null;
	const nextCheckAtMs = judged && (await moved(tx, container, reading, fill, protocol, judged, policy, nowMs));
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor: reading.checkerId ?? "office",
			action: "residual checked",
			subjectKind: "container",
			subjectId: container.id,
			areaId: container.areaId,
			detail: {
				checkId: row.id,
				freeChlorineMgPerL: row.freeChlorineMgPerL,
				protocol: `${protocol.code} ${protocol.version}`,
				band: row.band,
				fitToDrink: row.fitToDrink,
				...(flags.length > 0 ? { flags } : {}),
			},
		},
	]);
	const failed = follows !== null && !follows.tooEarly && !follows.fitToDrink;
	return {
		row,
		protocol,
		follows,
		nextCheckAtMs: judged ? nextCheckAtMs : undefined,
		cleanAtMs: failed ? reading.checkedAtMs + policy.water.cleanAfterFailureHours * HOUR_MS : null,
	};
}

/** The version that the water was dosed by; where none is in it that we know of, the household's. */
async function judgedBy(
	tx: Transaction,
	ids: Ids,
	{ householdId }: KnownContainer,
	fill: Fill | undefined,
	nowMs: number,
): Promise<ProtocolVersion> {
	const began = fill && (fill.soFar !== null || fill.dosedAtMs !== null) ? fill.protocolVersionId : undefined;
	const version = began && (await versionsIn(tx, [began])).get(began);
	return version || ((await protocolsKept(tx, ids, [householdId], nowMs)).get(householdId) as ProtocolVersion);
}

interface KnownDose {
	readonly id: string;
	readonly dosedAtMs: number;
	readonly doseMgPerL: number;
}

async function doseBefore(tx: Transaction, containerId: string, atMs: number): Promise<KnownDose | undefined> {
	const [dose] = await tx.query<KnownDose>(
		`SELECT id, dosed_at_ms, dose_mg_per_l FROM dose WHERE container_id = $1 AND dosed_at_ms <= $2 AND dosed_at_ms >= $3
		   AND (ended_because IS NULL OR ended_because NOT IN ('used up', 'not fit') OR ended_at_ms >= $2)
		 ORDER BY dosed_at_ms DESC, id DESC LIMIT 1`,
		[containerId, atMs, atMs - DOSE_COUNTS_MS],
	);
	return dose;
}

interface Judged {
	readonly follows: WhatFollows;
	readonly flags: CheckFlag[];
}

function judgedReading(
	container: KnownContainer,
	reading: NewReading,
	fill: Fill | undefined,
	written: Protocol,
	dose: KnownDose | undefined,
	{ water }: Policy,
): Judged {
	const protocol = withCheckAtUse(written, water.leastAtUseMgPerL);
	const minutes = fill?.waitingSinceMs == null ? null : (reading.checkedAtMs - fill.waitingSinceMs) / MINUTE_MS;
	const waited = fill?.soFar && !isStoredByNow(protocol, fill.soFar, minutes, water.afterContactMinutes) ? fill.soFar : null;
	const soFar = waited ?? (fillAtVisit(protocol) as FillSoFar);
	const { temperatureC } = waterNow(container, reading.checkedAtMs);
	// The top of a scale stands for everything above it: it is judged as if it were over.
	const read = reading.isOpenTop ? reading.freeChlorineMgPerL * (1 + 1e-6) : reading.freeChlorineMgPerL;
	const follows = whatFollows(protocol, soFar, {
		freeChlorineMgPerL: Math.min(50, read),
		minutesWaited: waited ? Math.max(0, minutes ?? 0) : null,
		waterTemperatureC: reading.waterTemperatureC ?? temperatureC,
		...(reading.pHClass ? { pHClass: reading.pHClass } : {}),
		...(dose ? { doseMgPerL: dose.doseMgPerL } : {}),
	});
	const flags: CheckFlag[] = [
		...(follows.tooEarly ? (["too early"] as const) : []),
		...(dose ? [] : (["no dose known"] as const)),
		...(follows.assumptions.includes("pH") ? (["pH not known"] as const) : []),
		...(reading.waterTemperatureC === undefined && protocol.contact.cold ? (["water temperature not known"] as const) : []),
		...(reading.isOpenTop ? (["top of the scale"] as const) : []),
	];
	return { follows, flags };
}

/** Read so long after its wait, a first check tells of stored water; where people wait for it before they drink, it stays what it is. */
function isStoredByNow(protocol: Protocol, soFar: FillSoFar, minutes: number | null, longestMinutes: number): boolean {
	const isFirst =
		protocol.checks.find(({ code }) => code === soFar.check)?.begins === "afterDose" && Object.keys(soFar.times).length === 0;
	return isFirst && protocol.drinkFrom === "contactTime" && minutes !== null && minutes > soFar.waitMinutes + longestMinutes;
}

/** Moves the fill on. @returns when the water is looked at next */
async function moved(
	tx: Transaction,
	container: KnownContainer,
	reading: NewReading,
	fill: Fill | undefined,
	protocol: ProtocolVersion,
	{ follows }: Judged,
	policy: Policy,
	nowMs: number,
): Promise<number | null> {
	if (follows.tooEarly && fill) return waitEndsMs(fill);
	const ended = "end" in follows.next ? follows.next.end : null;
	const soFar = ended ? null : follows.soFar;
	const waitingSinceMs = soFar ? reading.checkedAtMs + policy.water.minutesToAct * MINUTE_MS : null;
	const next = { containerId: container.id, doseId: fill?.doseId ?? null, protocolVersionId: protocol.id, soFar, waitingSinceMs };
	await keepFill(tx, next);
	if (ended && ended !== "drink" && fill?.doseId)
		await tx.affected(
			"UPDATE dose SET state = 'closed', ended_at_ms = $2, ended_because = 'not fit' WHERE id = $1 AND state = 'open'",
			[fill.doseId, reading.checkedAtMs],
		);
	if (soFar) return waitEndsMs(next);
	return (await plannedChecks(tx, [container], policy, nowMs)).get(container.id)?.dueAtMs ?? null;
}
