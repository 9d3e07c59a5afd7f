import { madeUpTo } from "../../science/surface-dilution.js";
import type { Forecast } from "../../stock/forecast.js";
import { placeholders } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
import { failedSince, lastCleanedMs, nextCleaningMs, takeCleaning } from "../../water/cleanings.js";
import { containersKnown, type KnownContainer, waterNow } from "../../water/containers.js";
import { CLEAN_CONTAINER } from "../../water/kinds.js";
import { waterCautions } from "../cautions.js";
import type { InstructionText } from "../instructions.js";
import {
	type Answered,
	type Brief,
	type DueSubject,
	DutyKind,
	type Guidance,
	type Moment,
	type Opening,
	type Postponement,
	type TaskAnswer,
} from "../kind.js";
import { cannotBeDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** Strength for utensils and its wait: 0.05 %, WHO and CDC; the volume that swirls well in a household's container is an own choice. */
const SOLUTION = { wantGPerL: 0.5, finalVolumeL: 1, minutes: 30 };

/** A container is emptied, scrubbed, rinsed and disinfected: in its time, sooner where its water is cloudy, and after a check that failed. */
export class CleanContainer extends DutyKind {
	readonly name = CLEAN_CONTAINER;
	readonly texts = { first: "clean.first", again: "clean.again", supervisor: "clean.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const containers = await containersKnown(
			tx,
			due.map(({ subjectId }) => subjectId),
		);
		const known = [...containers.values()];
		const cleaned = await lastCleanedMs(tx, known);
		const failed = await failedSince(tx, known, cleaned);
		const strengths = await jarsAtHand(tx, known);
		return due.map((subject) => {
			const container = containers.get(subject.subjectId);
			if (!container) return { subject, dueAtMs: null };
			const cleanedAtMs = cleaned.get(container.id);
			const hasFailed = failed.has(container.id);
			// Cleaned since the instant was set, and nothing has been wrong with its water since.
			if (!hasFailed && cleanedAtMs !== undefined) {
				const nextMs = nextCleaningMs(container, cleanedAtMs, policy);
				if (nextMs > nowMs) return { subject, dueAtMs: nextMs };
			}
			const days = cleanedAtMs === undefined ? 0 : Math.floor((nowMs - cleanedAtMs) / DAY_MS);
			const turbidity = waterNow(container, nowMs).turbidity;
			const lowGPerL = strengths.get(container.householdId) ?? 0;
			const solution = lowGPerL > 0.05 ? madeUpTo({ ...SOLUTION, haveGPerL: lowGPerL }) : undefined;
			return {
				subject,
				assigneeId: container.volunteerId,
				why: hasFailed ? "its water wasn't fit" : `${days} days since it was cleaned, water ${turbidity}`,
				brief: {
					container: container.code,
					household: container.householdCode,
					reason: hasFailed ? "failed" : cleanedAtMs === undefined ? "unknown" : "time",
					days,
					everyDays: turbidity === "clear" ? policy.water.cleanEveryDays.clear : policy.water.cleanEveryDays.cloudy,
					turbidity,
					bleachMl: solution?.kind === "made" ? Math.ceil(solution.bleachMl / 5) * 5 : 0,
				},
			};
		});
	}

	guidance(brief: Brief): Guidance {
		const reasons: Readonly<Record<string, InstructionText>> = { failed: "clean.why.failed", unknown: "clean.why.unknown" };
		const disinfect = Number(brief["bleachMl"]) > 0 ? "clean.disinfect" : "clean.noBleach";
		return {
			why: reasons[String(brief["reason"])] ?? "clean.why.time",
			steps: ["clean.empty", "clean.scrub", "clean.rinse", disinfect, "clean.drain"],
			cautions: waterCautions("caution.soapOut"),
			answerWith: "done.answer",
			also: { solutionL: SOLUTION.finalVolumeL, solutionMinutes: SOLUTION.minutes },
			asks: { done: true },
		};
	}

	async take(
		tx: Transaction,
		task: TaskRow,
		answer: TaskAnswer,
		byPersonId: string | null,
		{ nowMs, policy }: Moment,
	): Promise<Answered> {
		if (answer.kind === "reading") return refused("reply.unclear", { example: `${task.code} DONE` });
		const container = (await containersKnown(tx, [task.subjectId])).get(task.subjectId);
		if (!container) return { ...refused("reply.closed", {}), accepted: true, nextDueAtMs: null };
		if (answer.kind === "cannot") {
			const fill = { container: container.code, household: container.householdCode };
			return cannotBeDone({ text: "clean.cannot.supervisor", fill }, { policy, nowMs });
		}
		const { row, nextDueAtMs } = await takeCleaning(
			tx,
			this.ids,
			container,
			{ cleanedAtMs: nowMs, cleanerId: byPersonId },
			{ policy, nowMs },
		);
		return {
			accepted: true,
			state: "done",
			outcome: { cleaningId: row.id, cleanedAt: new Date(nowMs).toISOString() },
			tell: {
				text: "clean.told",
				fill: { container: container.code, nextCleanOn: localDateOf(nextDueAtMs, container.timeZone) },
				urgent: false,
			},
			nextDueAtMs,
		};
	}
}

/** @returns the weak end of the newest jar that each household's bleach comes from, g/L, by household */
async function jarsAtHand(tx: Transaction, containers: readonly KnownContainer[]): Promise<ReadonlyMap<string, number>> {
	const volunteers = [...new Set(containers.flatMap(({ volunteerId }) => volunteerId ?? []))];
	if (volunteers.length === 0) return new Map();
	const jars = await tx.query<{ keeperId: string; forecast: string }>(
		`SELECT keeper_id, forecast FROM batch WHERE state = 'in use' AND forecast IS NOT NULL AND household_id IS NULL
		   AND keeper_id IN (${placeholders(volunteers.length)}) ORDER BY made_at_ms, id`,
		volunteers,
	);
	const newest = new Map(jars.map(({ keeperId, forecast }) => [keeperId, (JSON.parse(forecast) as Forecast).now.lowGPerL]));
	return new Map(containers.map(({ householdId, volunteerId }) => [householdId, newest.get(volunteerId ?? "") ?? 0]));
}
