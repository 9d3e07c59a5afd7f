import { InputError } from "../errors/errors.js";
import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import type { Calendars } from "../stock/places.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { KnownContainer } from "../water/containers.js";
import { fillsOf } from "../water/fills.js";
import { CLEAN_CONTAINER } from "../water/kinds.js";
import { moreBleach } from "../water/more-bleach.js";
import { ownDoseAfterReading } from "../water/own-dose.js";
import { type NewReading, type ReadingTaken, takeReading } from "../water/readings.js";
import type { Answered, TaskAnswer } from "./kind.js";
import { areaSupervisors } from "./stand-in.js";
import { actOf, toldOfReading, toldOfUnfitWater } from "./water-telling.js";

export interface ReadingParts {
	readonly ids: Ids;
	readonly calendars: Calendars;
	readonly policy: Policy;
	readonly nowMs: number;
}

/** What follows from a reading, as an answer to a task tells it. */
export type ReadingAnswered = Pick<Answered, "outcome" | "tell" | "tellOthers" | "nextDueAtMs"> & {
	readonly taken: ReadingTaken;
};

/**
 * Takes a reading as an answer is taken: kept and judged, the cleaning moved where it failed, and what everybody is told.
 * @throws InputError `time-in-future`, `out-of-scale`
 */
export async function readingAnswered(
	tx: Transaction,
	container: KnownContainer,
	answer: Extract<TaskAnswer, { kind: "reading" }>,
	by: { readonly byPersonId: string | null; readonly taskId: string | null },
	parts: ReadingParts,
): Promise<ReadingAnswered> {
	const reading: NewReading = {
		...mgPerLOf(answer.reading),
		checkedAtMs: answer.takenAtMs,
		checkerId: by.byPersonId,
		taskId: by.taskId,
		...answer.water,
	};
	const fill = (await fillsOf(tx, [container.id])).get(container.id);
	const taken = await takeReading(tx, container, reading, parts);
	const { follows, protocol, row, cleanAtMs } = taken;
	const isDosedAgain = follows !== null && !follows.tooEarly && actOf(taken) === "doseAgain";
	const more = isDosedAgain
		? await moreBleach(
				tx,
				parts.calendars,
				container,
				{
					freeChlorineMgPerL: row.freeChlorineMgPerL,
					pHIsHigh: reading.pHClass === "aboveEight",
					waterL: fill?.waterL ?? null,
					batchId: fill?.batchId ?? null,
				},
				protocol.body,
				follows.action.code,
				parts,
			)
		: undefined;
	const isWithoutBleach = isDosedAgain && more === undefined;
	const own = follows !== null && !follows.tooEarly ? await ownDoseOf(tx, container, taken, by.byPersonId, parts) : undefined;
	if (cleanAtMs !== null) await cleanBy(tx, container, cleanAtMs);
	const supervisor = toldOfUnfitWater(container, taken);
	const supervisorId = supervisor && (await supervisorOf(tx, container));
	return {
		taken,
		outcome: {
			reading: answer.reading,
			freeChlorineMgPerL: row.freeChlorineMgPerL,
			protocol: `${protocol.code} ${protocol.version}`,
			band: row.band ?? null,
			counted: follows !== null && !follows.tooEarly,
			fitToDrink: row.fitToDrink ?? null,
			action: follows?.action.code ?? null,
			flags: row.flags ?? [],
			...(more ?? {}),
			...(own ? { doseTimes: own.fill.times } : {}),
		},
		tell: toldOfReading(container, taken, more),
		tellOthers: [
			...(supervisor && supervisorId && supervisorId !== by.byPersonId ? [{ ...supervisor, recipientId: supervisorId }] : []),
			...(own ? [own] : []),
		],
		nextDueAtMs: isWithoutBleach ? laterMs(taken.nextCheckAtMs, parts) : (taken.nextCheckAtMs ?? null),
	};
}

/** What the household gives from now on is told to whoever has just read its water, else to its volunteer. */
async function ownDoseOf(
	tx: Transaction,
	container: KnownContainer,
	{ protocol }: ReadingTaken,
	byPersonId: string | null,
	parts: ReadingParts,
) {
	const own = await ownDoseAfterReading(tx, parts.ids, container, protocol.body, { ...parts, actor: byPersonId ?? "office" });
	const recipientId = byPersonId ?? container.volunteerId;
	return own && recipientId ? { text: "household.dose", fill: { ...own }, urgent: false, recipientId } : undefined;
}

/** Nothing can be put into it, so nothing is waited for: it isn't read again before a dose, or before she has had time to get bleach. */
function laterMs(nextCheckAtMs: number | null | undefined, { nowMs, policy }: ReadingParts): number {
	return Math.max(nextCheckAtMs ?? 0, nowMs + policy.askAgainDays * DAY_MS);
}

/** Brings a container's cleaning forward; one that is due sooner, or asked for already, stays. */
async function cleanBy(tx: Transaction, { id, areaId }: KnownContainer, atMs: number): Promise<void> {
	const [open] = await tx.query("SELECT id FROM task WHERE kind = $1 AND subject_id = $2 AND state = 'open'", [
		CLEAN_CONTAINER,
		id,
	]);
	if (open) return;
	const [due] = await tx.query<{ dueAtMs: number | null }>("SELECT due_at_ms FROM due WHERE kind = $1 AND subject_id = $2", [
		CLEAN_CONTAINER,
		id,
	]);
	const dueAtMs = Math.min(due?.dueAtMs ?? Number.POSITIVE_INFINITY, atMs);
	await setDue(tx, [{ kind: CLEAN_CONTAINER, subjectId: id, areaId, dueAtMs }]);
}

async function supervisorOf(tx: Transaction, { volunteerId, areaId }: KnownContainer): Promise<string | undefined> {
	const [row] = await tx.query<{ supervisorId: string | null }>("SELECT supervisor_id FROM person WHERE id = $1", [
		volunteerId ?? "",
	]);
	return row?.supervisorId ?? (await areaSupervisors(tx, [areaId])).get(areaId);
}

/** @throws InputError `out-of-scale` for what isn't a number of 0 to 50 */
function mgPerLOf(reading: string): Pick<NewReading, "freeChlorineMgPerL" | "isOpenTop"> {
	const isOpenTop = reading.endsWith("+") || reading.startsWith(">");
	const freeChlorineMgPerL = Number(reading.replace(/^>|\+$/g, ""));
	if (reading.trim() !== "" && freeChlorineMgPerL >= 0 && freeChlorineMgPerL <= 50) return { freeChlorineMgPerL, isOpenTop };
	throw new InputError(
		"out-of-scale",
		`${reading} isn't a reading of 0 to 50 mg/L; dilute the sample, read again and multiply.`,
		{
			problems: [{ at: "/reading", message: "must be 0 to 50 (mg/L)" }],
		},
	);
}
