import { MAKE, productionChanged } from "../../stock/due-work.js";
import { made } from "../../stock/made.js";
import type { Calendars } from "../../stock/places.js";
import { endPlan, keepPlans, type Planned, plansOf } from "../../stock/planning.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
import { amountOf } from "../amount.js";
import { makingCautions } from "../cautions.js";
import {
	type Answered,
	type Brief,
	type DueSubject,
	DutyKind,
	type Guidance,
	type Moment,
	type Opening,
	type Overtaken,
	type Postponement,
	type TaskAnswer,
} from "../kind.js";
import { cannotBeDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** What volunteers and the production point will want isn't there: the generator's operator makes it by the plan. */
export class MakeBleach extends DutyKind {
	readonly name = MAKE;
	readonly texts = { first: "make.first", again: "make.again", supervisor: "make.supervisor" } as const;

	constructor(
		private readonly ids: Ids,
		private readonly calendars: Calendars,
	) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<(Opening | Postponement)[]> {
		const plans = await this.planned(tx, due, moment);
		const zones = await timeZones(tx);
		return due.map((subject) => {
			const planned = plans.get(subject.subjectId);
			// Another generator plans for one that is out of service.
			if (!planned || planned.insteadOf || planned.plan.dueAtMs === null) return { subject, dueAtMs: null };
			if (planned.plan.dueAtMs > moment.nowMs) return { subject, dueAtMs: planned.plan.dueAtMs };
			const timeZone = zones.get(subject.areaId) ?? "UTC";
			return planned.generator.inService ? openingOf(subject, planned, timeZone) : shortageOf(subject, planned, timeZone);
		});
	}

	override async overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		const plans = await this.planned(tx, due, moment);
		const overtaken: Overtaken[] = [];
		for (const subject of due) {
			const planned = plans.get(subject.subjectId);
			const isNeeded = planned && !planned.insteadOf && planned.plan.dueAtMs !== null && planned.plan.dueAtMs <= moment.nowMs;
			if (isNeeded) continue;
			const because = planned?.insteadOf
				? `${planned.insteadOf.code} makes it instead`
				: "what stands at the point serves the wants of the next days";
			const standingL = planned?.plan.standingL ?? 0;
			overtaken.push({
				subject,
				dueAtMs: planned?.insteadOf ? null : (planned?.plan.dueAtMs ?? null),
				evidence: { because, standingL },
			});
		}
		return overtaken;
	}

	/** Reckons plans anew and keeps them; a generator that works takes over from those that don't. */
	private async planned(
		tx: Transaction,
		due: readonly DueSubject[],
		{ policy, nowMs }: Moment,
	): Promise<ReadonlyMap<string, Planned>> {
		const plans = await plansOf(
			tx,
			due.map(({ subjectId }) => subjectId),
			policy,
			nowMs,
		);
		await keepPlans(tx, this.ids, [...plans.values()], nowMs);
		const others = [...plans.values()].flatMap(({ insteadOf }) => insteadOf?.generatorId ?? []);
		await productionChanged(tx, others, nowMs);
		return plans;
	}

	guidance(brief: Brief): Guidance {
		if (brief["shortage"] === "yes")
			return {
				why: "make.shortage.why",
				steps: ["make.shortage.call", "make.shortage.find", "make.shortage.tell"],
				cautions: makingCautions(),
				answerWith: "make.shortage.answer",
				asks: { done: true },
			};
		return {
			why: "make.why",
			steps: ["make.gloves", "make.brine", "make.run", "make.test", "make.total", "make.store"],
			cautions: makingCautions(),
			answerWith: "make.answer",
			asks: { number: "litres", planned: Number(brief["litres"]), done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const { nowMs, policy } = moment;
		if (answer.kind === "cannot") return notMade(task, moment);
		if (task.brief["shortage"] === "yes") return arranged(nowMs + policy.stock.makeLeadDays * DAY_MS);
		const planned = Number(task.brief["litres"]);
		const litres = amountOf(answer, planned);
		if (!(litres > 0 && litres <= Math.max(MOST_L, 2 * planned)))
			return refused("make.unclear", { example: `${task.code} ${planned}` });
		const since = await madeSince(tx, task);
		const madeAtMs = answer.kind === "reading" ? answer.takenAtMs : nowMs;
		const missing = litres - since.litres;
		// Runs that are on file already are the better record: only what they don't tell of is put on file as planned.
		const codes = [...since.codes];
		if (missing > 0.05 * litres) {
			const bleach = {
				generatorId: task.subjectId,
				litres: Math.round(missing * 1000) / 1000,
				madeAtMs,
				actor: byPersonId ?? "office",
			};
			codes.push(await made(tx, { ids: this.ids, calendars: this.calendars }, bleach, moment));
		}
		await endPlan(tx, task.subjectId, "made", nowMs);
		return {
			accepted: true,
			state: "done",
			outcome: { litres, batches: codes, byRuns: since.codes.length },
			tell: { text: "make.noted", fill: { litres, jar: codes.at(-1) ?? "-" }, urgent: false },
			nextDueAtMs: nowMs + policy.askAgainDays * DAY_MS,
		};
	}
}

function notMade(task: TaskRow, moment: Moment): Answered {
	const { litres, generator, outOn } = task.brief as { litres: number; generator: string; outOn: string };
	const told = { text: "make.cannot.supervisor", fill: { litres, generator, outOn } };
	return cannotBeDone(told, moment, { outcome: { reason: "the operator can't", outOn } });
}

/** More than a day of any small generator: a slip of the thumb. */
const MOST_L = 200;

const arranged = (nextDueAtMs: number): Answered => ({
	accepted: true,
	state: "done",
	outcome: { arranged: "bleach from elsewhere" },
	tell: { text: "make.arranged", fill: {}, urgent: false },
	nextDueAtMs,
});

/** Batches that were put on file since the task was opened. */
async function madeSince(tx: Transaction, task: TaskRow): Promise<{ codes: string[]; litres: number }> {
	const rows = await tx.query<{ code: string; volumeL: number }>(
		"SELECT code, volume_l FROM batch WHERE generator_id = $1 AND drawn_from_id IS NULL AND made_at_ms >= $2 ORDER BY made_at_ms, code",
		[task.subjectId, task.openedAtMs],
	);
	return { codes: rows.map(({ code }) => code), litres: rows.reduce((sum, { volumeL }) => sum + volumeL, 0) };
}

function openingOf(subject: DueSubject, { generator, plan, alsoFor }: Planned, timeZone: string): Opening {
	return {
		subject,
		assigneeId: generator.operatorId,
		why: `${plan.volunteers} wants of ${plan.wantedL} L and a reserve of ${plan.reserveL} L against ${plan.standingL} L${alsoFor.length > 0 ? `, also for ${alsoFor.join(", ")}` : ""}`,
		brief: {
			generator: generator.code,
			runs: plan.runs,
			litres: plan.litres,
			saltG: plan.saltG,
			waterL: plan.waterL,
			minutes: plan.minutes,
			chargeAh: plan.chargeAh,
			reagentDrops: plan.reagentDrops,
			waterPerRunL: generator.litresPerRun,
			saltPerRunG: Math.round(generator.saltGPerRun),
			minutesPerRun: generator.minutesPerRun,
			chargePerRunAh: Math.round(generator.chargeAhPerRun * 10) / 10,
			currentA: generator.currentA,
			dropsPerRun: plan.runs > 0 ? plan.reagentDrops / plan.runs : 0,
			volunteers: plan.volunteers,
			wantedL: plan.wantedL,
			reserveL: plan.reserveL,
			standingL: plan.standingL,
			byOn: localDateOf(plan.byMs, timeZone),
			outOn: localDateOf(plan.outAtMs ?? plan.byMs, timeZone),
		},
	};
}

/** Nobody can make it: the supervisor must find bleach elsewhere before households run out. */
function shortageOf(subject: DueSubject, { generator, plan }: Planned, timeZone: string): Opening {
	const outOn = localDateOf(plan.outAtMs ?? plan.byMs, timeZone);
	return {
		subject,
		assigneeId: null,
		text: "make.shortage",
		why: `out of service, none in reach: ${plan.litres} L are missing, households run out on ${outOn}`,
		brief: {
			shortage: "yes",
			generator: generator.code,
			runs: plan.runs,
			litres: plan.litres,
			saltG: 0,
			byOn: localDateOf(plan.byMs, timeZone),
			outOn,
		},
	};
}

async function timeZones(tx: Transaction): Promise<ReadonlyMap<string, string>> {
	const rows = await tx.query<{ id: string; timeZone: string }>(
		"SELECT DISTINCT a.id, a.time_zone FROM area a JOIN generator g ON g.area_id = a.id",
	);
	return new Map(rows.map(({ id, timeZone }) => [id, timeZone]));
}
