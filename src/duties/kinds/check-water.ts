import { InputError } from "../../errors/errors.js";
import type { Policy } from "../../programme/policy.js";
import { visitDays } from "../../programme/water-rules.js";
import { chanceUnder } from "../../science/residual-belief.js";
import { rounded } from "../../science/rounded.js";
import type { Calendars } from "../../stock/places.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { HOUR_MS, MINUTE_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { householdsSeen, justSeenMs, plannedChecks } from "../../water/check-plan.js";
import { containersKnown, type KnownContainer, waterNow } from "../../water/containers.js";
import { type Fill, fillsOf, isFollowUp, waitEndsMs } from "../../water/fills.js";
import { householdBeliefs } from "../../water/household-belief.js";
import { CHECK_WATER } from "../../water/kinds.js";
import { versionsIn } from "../../water/protocol/accept.js";
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
import { type ReadingAnswered, readingAnswered } from "../water-readings.js";

/** must: nobody drinks before; wait: a first fill's wait is over; low: probably used up; turn: the household's turn. */
type Reason = "must" | "wait" | "low" | "turn";

/** Free chlorine in a household's water is read: when a wait is over, when it has probably fallen, or when its turn has come. */
export class CheckWater extends DutyKind {
	readonly name = CHECK_WATER;
	readonly texts = { first: "water.check.first", again: "water.check.again", supervisor: "water.check.supervisor" } as const;

	constructor(
		private readonly ids: Ids,
		private readonly calendars: Calendars,
	) {
		super();
	}

	/** A wait is over, and people may want to drink. */
	override isUrgent(brief: Brief): boolean {
		return brief["reason"] === "must" || brief["reason"] === "wait";
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const ids = due.map(({ subjectId }) => subjectId);
		const containers = await containersKnown(tx, ids);
		const fills = await fillsOf(tx, ids);
		const versions = await versionsIn(
			tx,
			[...fills.values()].map(({ protocolVersionId }) => protocolVersionId),
		);
		const known = [...containers.values()];
		const seen = await householdsSeen(
			tx,
			known.map(({ householdId }) => householdId),
		);
		const dosed = known.filter(({ id }) => fills.get(id)?.dosedAtMs != null);
		const beliefs = await householdBeliefs(tx, dosed, nowMs);
		const { leastAtUseMgPerL, afterContactMinutes } = policy.water;
		const daysOf = (container: KnownContainer) => visitDays(policy.water, seen.get(container.householdId)?.readings ?? 0);

		const reasonFor = (container: KnownContainer, fill: Fill | undefined, chanceLow: number): Reason | "later" => {
			const endsMs = fill ? waitEndsMs(fill) : null;
			const mustRead = fill && versions.get(fill.protocolVersionId)?.body.drinkFrom === "fitReading";
			if (fill?.soFar && endsMs !== null) {
				if (endsMs > nowMs) return "later";
				if (isFollowUp(fill.soFar) || mustRead) return "must";
				if (nowMs <= endsMs + afterContactMinutes * MINUTE_MS) return "wait";
			}
			if (chanceLow >= policy.toleratedChance) return "low";
			const sinceMs = nowMs - (seen.get(container.householdId)?.lastAtMs ?? 0);
			return sinceMs < justSeenMs(daysOf(container)) ? "later" : "turn";
		};
		const later = new Map<string, DueSubject>();
		const decided = due.map((subject): Opening | Postponement => {
			const container = containers.get(subject.subjectId);
			if (!container) return { subject, dueAtMs: null };
			const fill = fills.get(container.id);
			const belief = beliefs.get(container.id);
			const hours = fill?.dosedAtMs == null ? null : (nowMs - fill.dosedAtMs) / HOUR_MS;
			const chanceLow =
				belief && fill?.doseMgPerL != null && hours !== null && hours >= 0.5 && hours <= 720
					? chanceUnder(belief, {
							doseMgPerL: Math.min(100, fill.doseMgPerL),
							temperatureC: waterNow(container, nowMs).temperatureC,
							limitMgPerL: leastAtUseMgPerL,
							hours,
						})
					: 0;
			const reason = reasonFor(container, fill, chanceLow);
			if (reason !== "later")
				return openingOf(subject, container, fill, { reason, hours, chanceLow, intervalDays: daysOf(container) }, policy);
			const endsMs = fill ? waitEndsMs(fill) : null;
			if (endsMs !== null && endsMs > nowMs) return { subject, dueAtMs: endsMs };
			later.set(container.id, subject);
			return { subject, dueAtMs: null };
		});
		if (later.size === 0) return decided;
		const plans = await plannedChecks(
			tx,
			known.filter(({ id }) => later.has(id)),
			policy,
			nowMs,
		);
		return decided.map((one) =>
			later.has(one.subject.subjectId)
				? { subject: one.subject, dueAtMs: plans.get(one.subject.subjectId)?.dueAtMs ?? null }
				: one,
		);
	}

	guidance(brief: Brief): Guidance {
		const reasons: Readonly<Record<string, InstructionText>> = {
			must: "water.why.must",
			wait: "water.why.wait",
			low: "water.why.low",
		};
		return {
			why: reasons[String(brief["reason"])] ?? "water.why.turn",
			steps: ["water.rinse", "water.fill", "water.read", "water.noColour", "water.pour"],
			cautions: waterCautions("caution.reagentNotSwallowed", "caution.notEverything"),
			answerWith: "water.answer",
			asks: { number: "mgPerL" },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		if (answer.kind === "cannot") return this.notRead(task, moment);
		if (answer.kind !== "reading") return refused("reply.unclear", { example: `${task.code} 0.5` });
		const container = (await containersKnown(tx, [task.subjectId])).get(task.subjectId);
		if (!container) return { ...refused("reply.closed", {}), accepted: true, nextDueAtMs: null };
		let taken: ReadingAnswered;
		try {
			taken = await readingAnswered(tx, container, answer, { byPersonId, taskId: task.id }, { ...this.parts(), ...moment });
		} catch (error) {
			if (!(error instanceof InputError) || error.code !== "out-of-scale") throw error;
			return refused("reply.outOfScale", { scale: "0-50", example: `${task.code} 0.5` });
		}
		return { accepted: true, state: "done", ...taken };
	}

	private parts() {
		return { ids: this.ids, calendars: this.calendars };
	}

	private notRead(task: TaskRow, moment: Moment): Answered {
		const { container, household } = task.brief as { container: string; household: string };
		const told = { text: "water.cannot.supervisor", fill: { container, household } };
		if (!this.isUrgent(task.brief as Brief)) return cannotBeDone(told, moment);
		const nextDueAtMs = moment.nowMs + moment.policy.water.awaitedAgainHours * HOUR_MS;
		return cannotBeDone({ ...told, urgent: true }, moment, { nextDueAtMs });
	}
}

/** What was found of a container that is to be looked at. */
interface Found {
	readonly reason: Reason;
	/** Since it was dosed. */
	readonly hours: number | null;
	readonly chanceLow: number;
	/** Within which its household is seen. */
	readonly intervalDays: number;
}

function openingOf(
	subject: DueSubject,
	container: KnownContainer,
	fill: Fill | undefined,
	{ reason, hours, chanceLow, intervalDays }: Found,
	policy: Policy,
): Opening {
	const why: Record<Reason, string> = {
		must: `${fill?.soFar?.waitMinutes ?? 0} min of waiting are over, and nobody drinks before`,
		wait: `${fill?.soFar?.waitMinutes ?? 0} min of waiting are over after a first dose`,
		low: `chance of less than ${policy.water.leastAtUseMgPerL} mg/L reached ${Math.round(chanceLow * 100)} %`,
		turn: `the household's turn within ${intervalDays} days`,
	};
	return {
		subject,
		assigneeId: container.volunteerId,
		why: why[reason],
		brief: {
			container: container.code,
			household: container.householdCode,
			reason,
			volumeL: container.volumeL,
			waitMinutes: fill?.soFar?.waitMinutes ?? 0,
			doseMgPerL: rounded(fill?.doseMgPerL ?? 0, 2),
			hours: Math.round((hours ?? 0) * 10) / 10,
			chancePercent: Math.round(chanceLow * 100),
			leastMgPerL: policy.water.leastAtUseMgPerL,
			intervalDays,
		},
	};
}
