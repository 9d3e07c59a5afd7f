import { RUN_AGAIN } from "../../generators/due-kinds.js";
import { record } from "../../ledger/ledger.js";
import { DISCARD } from "../../stock/due-work.js";
import { chlorateOfDose, DOSES_CLOUDY, type EndOfUse, endOfUse, stillServes } from "../../stock/end-of-use.js";
import type { Forecast } from "../../stock/forecast.js";
import { discardAll } from "../../stock/moves.js";
import { placeholders } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { bleachCautions } from "../cautions.js";
import type { InstructionText } from "../instructions.js";
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
import { notDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

interface Jar {
	readonly id: string;
	readonly code: string;
	readonly keeperId: string | null;
	readonly operatorId: string | null;
	readonly state: string;
	readonly heldMl: number;
	readonly isRunOn: boolean;
	readonly madeStrengthGPerL: number;
	readonly forecast: string | null;
	readonly setAsideUntilMs: number | null;
	readonly dosesCloudy: boolean;
}

/** A jar isn't for drinking water any more: it is relabelled for the uses that it still serves, and in the end poured away. */
export class DiscardJar extends DutyKind {
	readonly name = DISCARD;
	readonly texts = { first: "discard.first", again: "discard.again", supervisor: "discard.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<(Opening | Postponement)[]> {
		const jars = await jarsOf(tx, due);
		return due.map((subject) => {
			const jar = jars.get(subject.subjectId);
			const end = jar && endOf(jar, moment);
			if (!jar || !end) return { subject, dueAtMs: null };
			if (jar.isRunOn) return { subject, dueAtMs: moment.nowMs + moment.policy.askAgainDays * DAY_MS };
			if (end.dueAtMs > moment.nowMs) return { subject, dueAtMs: end.dueAtMs };
			return openingOf(subject, jar, end, moment);
		});
	}

	override async overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		const jars = await jarsOf(tx, due);
		return due.flatMap((subject) => {
			const jar = jars.get(subject.subjectId);
			const end = jar && endOf(jar, moment);
			if (jar && end && end.dueAtMs <= moment.nowMs) return [];
			const isOver = !jar || jar.state === "empty" || jar.state === "discarded";
			const because = isOver ? `the jar is ${jar?.state ?? "gone"}` : "by what is known now it is strong enough";
			return [{ subject, dueAtMs: end?.dueAtMs ?? null, evidence: { because } }];
		});
	}

	guidance(brief: Brief): Guidance {
		if (brief["what"] === "pour away")
			return {
				why: brief["because"] === "not used up" ? "discard.why.notUsedUp" : "discard.why.useless",
				steps: ["discard.gloves", "discard.pour", "discard.rinse", "discard.label"],
				cautions: bleachCautions(),
				answerWith: "discard.answer",
				asks: { done: true },
			};
		const reasons: Readonly<Record<string, InstructionText>> = { chlorate: "discard.why.chlorate", "too old": "discard.why.old" };
		return {
			why: reasons[String(brief["because"])] ?? "discard.why.weak",
			steps: ["surfaces.label", "surfaces.mix", "surfaces.wet", "surfaces.within"],
			cautions: bleachCautions("caution.neverSpray"),
			answerWith: "surfaces.answer",
			asks: { done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		if (answer.kind === "cannot") return notDone(String(task.brief["jar"]), moment);
		if (answer.kind !== "done") return refused("reply.unclear", { example: `${task.code} done` });
		const jar = String(task.brief["jar"]);
		return task.brief["what"] === "pour away"
			? this.pouredAway(tx, task, jar, byPersonId, moment)
			: this.setAside(tx, task, jar, byPersonId, moment);
	}

	private async pouredAway(
		tx: Transaction,
		task: TaskRow,
		jar: string,
		byPersonId: string | null,
		{ nowMs }: Moment,
	): Promise<Answered> {
		const pouredMl = await discardAll(tx, this.ids, task.subjectId, { atMs: nowMs, nowMs, byPersonId, reference: task.id });
		return {
			accepted: true,
			state: "done",
			outcome: { did: "poured away", pouredMl },
			tell: { text: "discard.noted", fill: { jar }, urgent: false },
			nextDueAtMs: null,
		};
	}

	private async setAside(
		tx: Transaction,
		task: TaskRow,
		jar: string,
		byPersonId: string | null,
		moment: Moment,
	): Promise<Answered> {
		const { nowMs, policy } = moment;
		const setAsideUntilMs = nowMs + policy.stock.weakUseDays * DAY_MS;
		await tx.affected("UPDATE batch SET set_aside_until_ms = $2 WHERE id = $1", [task.subjectId, setAsideUntilMs]);
		const [row] = [...(await jarsOf(tx, [task])).values()];
		await record(tx, this.ids, [
			{
				atMs: nowMs,
				actor: byPersonId ?? "office",
				action: "jar set aside for surfaces",
				subjectKind: "batch",
				subjectId: task.subjectId,
				areaId: task.areaId,
				detail: { code: jar, because: task.brief["because"], days: policy.stock.weakUseDays },
			},
		]);
		return {
			accepted: true,
			state: "done",
			outcome: { did: "set aside for surfaces", days: policy.stock.weakUseDays },
			tell: { text: "discard.setAside", fill: { jar }, urgent: false },
			nextDueAtMs: (row && endOf(row, moment)?.dueAtMs) ?? setAsideUntilMs,
		};
	}
}

function endOf(jar: Jar, { nowMs, policy }: Moment): EndOfUse | undefined {
	if (!jar.forecast || jar.state === "empty" || jar.state === "discarded" || jar.heldMl <= 0) return undefined;
	const forecast = JSON.parse(jar.forecast) as Forecast;
	// A reading doesn't fit what is believed: a fresh sample is asked for, and nothing is poured away by either of them.
	if (forecast.contradiction?.inARow === 1) return undefined;
	const end = endOfUse({ ...jar, forecast }, nowMs, policy);
	// What serves no surface either isn't set aside for it.
	if (end?.what !== "set aside for surfaces" || end.dueAtMs > nowMs || stillServes(forecast, nowMs)) return end;
	return { what: "pour away", because: "serves no use", dueAtMs: end.dueAtMs };
}

function openingOf(subject: DueSubject, jar: Jar, end: EndOfUse, { nowMs, policy }: Moment): Opening {
	const forecast = JSON.parse(jar.forecast as string) as Forecast;
	const strength = Math.round(forecast.now.medianGPerL * 10) / 10;
	const common = { jar: jar.code, heldMl: Math.round(jar.heldMl), strengthGPerL: strength, what: end.what, because: end.because };
	const assigneeId = jar.keeperId ?? jar.operatorId;
	const why = `${end.what}: ${end.because}, about ${strength} g/L`;
	const serves = end.what === "set aside for surfaces" ? stillServes(forecast, nowMs, jar.heldMl) : undefined;
	if (!serves) return { subject, assigneeId, why, brief: common };
	const chlorate = Math.round(chlorateOfDose({ ...jar, forecast }, nowMs, policy) * 100) / 100;
	return {
		subject,
		assigneeId,
		text: "discard.surfaces",
		why,
		brief: {
			...common,
			...serves,
			days: policy.stock.weakUseDays,
			chlorateMgPerL: chlorate,
			limitMgPerL: policy.stock.chlorateMgPerL,
		},
	};
}

/** A weak batch that is to be made stronger by running its generator on isn't at its end. */
const RUN_ON = `EXISTS (SELECT 1 FROM generator_run r JOIN due d ON d.subject_id = r.id AND d.kind = '${RUN_AGAIN}'
	WHERE r.batch_id = b.id AND (d.due_at_ms IS NOT NULL OR EXISTS (SELECT 1 FROM task t WHERE t.kind = d.kind AND t.subject_id = d.subject_id AND t.state = 'open')))`;

async function jarsOf(tx: Transaction, due: readonly Pick<DueSubject, "subjectId">[]): Promise<ReadonlyMap<string, Jar>> {
	const rows = await tx.query<Jar & object>(
		`SELECT b.id, b.code, b.keeper_id, g.operator_id, b.state, COALESCE(b.held_ul / 1000.0, b.volume_l * 1000) AS held_ml, b.made_strength_g_per_l, b.forecast, b.set_aside_until_ms, ${DOSES_CLOUDY} AS doses_cloudy, ${RUN_ON} AS is_run_on
		 FROM batch b LEFT JOIN generator g ON g.id = b.generator_id WHERE b.id IN (${placeholders(due.length)})`,
		due.map(({ subjectId }) => subjectId),
	);
	return new Map(
		rows.map((row) => [
			row.id,
			{ ...row, heldMl: Number(row.heldMl), dosesCloudy: Boolean(row.dosesCloudy), isRunOn: Boolean(row.isRunOn) },
		]),
	);
}
