import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import type { Policy } from "../../programme/policy.js";
import { rounded } from "../../science/rounded.js";
import { doseWasTold } from "../../stock/dose-told.js";
import { RETEST } from "../../stock/due-work.js";
import type { Forecast } from "../../stock/forecast.js";
import { refreshForecasts } from "../../stock/forecasts.js";
import { kitNamed, scaleOf } from "../../stock/kits.js";
import type { Calendars } from "../../stock/places.js";
import { roundedFigures } from "../../stock/rounded-figures.js";
import { keepStrengthTest } from "../../stock/strength-tests.js";
import { among, placeholders } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
import { keeperDoseLine } from "../../water/keeper-doses.js";
import { afterStrengthTest } from "../after-test.js";
import { bleachCautions } from "../cautions.js";
import type { InstructionText } from "../instructions.js";
import {
	type Answered,
	type Brief,
	type Coming,
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
import { unfitEntries } from "../unfit.js";

interface DueJar {
	readonly id: string;
	readonly code: string;
	readonly keeperId: string | null;
	readonly madeAtMs: number;
	readonly state: string;
	readonly forecast: string | null;
}

/** A jar has probably become too weak, or can't be trusted without a look: its keeper tests it and answers with the reading. */
export class RetestStoredBleach extends DutyKind {
	readonly name = RETEST;
	readonly texts = { first: "retest.first", again: "retest.again", supervisor: "retest.supervisor" } as const;

	constructor(
		private readonly ids: Ids,
		private readonly calendars: Calendars,
	) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const jars = await tx.query<DueJar>(
			// What stands at a production point is tested by whoever runs its generator.
			`SELECT b.id, b.code, CASE WHEN b.household_id IS NULL THEN COALESCE(b.keeper_id, g.operator_id) ELSE b.keeper_id END AS keeper_id,
				b.made_at_ms, b.state, b.forecast
			 FROM batch b LEFT JOIN generator g ON g.id = b.generator_id WHERE b.id ${among(tx.kind, "$1")}`,
			[due.map(({ subjectId }) => subjectId)],
		);
		const byId = new Map(jars.map((jar) => [jar.id, jar]));
		// Jars that came in by the thousand are put on file at once and forecast here, a page at a time.
		const unforecast = jars.filter(({ forecast }) => forecast === null).map(({ id }) => id);
		const forecasts = await refreshForecasts(tx, this.calendars, unforecast, policy, nowMs);
		const subjects = due.map(({ subjectId, areaId }) => ({ id: subjectId, areaId }));
		await record(tx, this.ids, unfitEntries(subjects, forecasts.unfit, nowMs));
		const scale = scaleOf(kitNamed(policy.testKit));
		return due.map((subject) => {
			const jar = byId.get(subject.subjectId);
			const first = forecasts.get(subject.subjectId);
			if (first) return { subject, dueAtMs: first.retestAtMs };
			if (!jar?.forecast || isOver(jar)) return { subject, dueAtMs: null };
			return openingOf(subject, jar, JSON.parse(jar.forecast) as Forecast, policy, scale);
		});
	}

	/** A jar that was emptied or poured away while its test was asked for needs none any more. */
	override async overtaken(tx: Transaction, due: readonly DueSubject[]): Promise<Overtaken[]> {
		const jars = await tx.query<{ id: string; state: string }>(
			`SELECT id, state FROM batch WHERE state IN ('empty', 'discarded') AND id ${among(tx.kind, "$1")}`,
			[due.map(({ subjectId }) => subjectId)],
		);
		const over = new Map(jars.map(({ id, state }) => [id, state]));
		return due.flatMap((subject) => {
			const state = over.get(subject.subjectId);
			return state === undefined ? [] : [{ subject, dueAtMs: null, evidence: { because: `the jar is ${state}` } }];
		});
	}

	override async coming(from: Pick<Transaction, "query">, personIds: readonly string[], untilMs: number): Promise<Coming[]> {
		const rows = await from.query<{ personId: string; subjectId: string; dueAtMs: number; jar: string }>(
			`SELECT b.keeper_id AS person_id, d.subject_id, d.due_at_ms, b.code AS jar FROM due d JOIN batch b ON b.id = d.subject_id
			 WHERE d.kind = $1 AND d.due_at_ms <= $2 AND b.keeper_id IN (${placeholders(personIds.length, 3)}) ORDER BY d.due_at_ms, b.code`,
			[this.name, untilMs, ...personIds],
		);
		return rows.map(({ jar, ...row }) => ({ ...row, text: "retest.coming", fill: { jar } }));
	}

	guidance(brief: Brief): Guidance {
		const reasons: Readonly<Record<string, InstructionText>> = {
			contradicted: "retest.why.contradicted",
			"longest time": "retest.why.longest",
		};
		return {
			why: reasons[String(brief["reason"])] ?? "retest.why.chance",
			steps: ["retest.gloves", "retest.sample", "retest.mix", "retest.rinse", "retest.read", "retest.pour"],
			cautions: bleachCautions("caution.bleachedAway"),
			answerWith: "retest.answer",
			asks: { number: "colour", scale: String(brief["scale"]) },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		if (answer.kind === "reading") return this.tested(tx, task, answer, byPersonId, moment);
		// She has no kit, or no time.
		if (answer.kind === "cannot")
			return cannotBeDone({ text: "retest.cannot.supervisor", fill: { jar: String(task.brief["jar"]) } }, moment);
		return refused("reply.unclear", { example: `${task.code} 3` });
	}

	private async tested(
		tx: Transaction,
		task: TaskRow,
		answer: Extract<TaskAnswer, { kind: "reading" }>,
		byPersonId: string | null,
		{ nowMs, policy }: Moment,
	): Promise<Answered> {
		const how = answer.how ?? {
			kit: String(task.brief["kit"] ?? policy.testKit),
			sampleMl: Number(task.brief["sampleMl"]),
			madeUpToL: Number(task.brief["waterL"]),
		};
		let forecast: Forecast | undefined;
		let isBackInUse = false;
		try {
			const test = {
				batchId: task.subjectId,
				testedAtMs: answer.takenAtMs,
				recordedAtMs: nowMs,
				testerId: byPersonId,
				...how,
				reading: answer.reading,
				taskId: task.id,
			};
			const kept = await keepStrengthTest(tx, test, { ids: this.ids, calendars: this.calendars, policy });
			await afterStrengthTest(tx, this.ids, kept.test, { nowMs, policy });
			({ forecast, isBackInUse } = kept);
		} catch (error) {
			if (!(error instanceof InputError) || error.code !== "out-of-scale") throw error;
			return refused("reply.outOfScale", { scale: scaleOf(kitNamed(how.kit)), example: `${task.code} 3` });
		}
		if (!forecast) return this.keptAlone(tx, task, answer.reading);
		return {
			accepted: true,
			state: "done",
			outcome: { reading: answer.reading, ...roundedFigures(forecast) },
			tell: await this.told(tx, task, forecast, isBackInUse, { policy, nowMs }),
			...supervisorTold(task, forecast),
			nextDueAtMs: forecast.retestAtMs,
		};
	}

	/** The jar is no more, or nothing can be said of it: her reading is kept all the same. */
	private async keptAlone(tx: Transaction, task: TaskRow, reading: string): Promise<Answered> {
		const [jar] = await tx.query<{ state: string }>("SELECT state FROM batch WHERE id = $1", [task.subjectId]);
		const kept = { accepted: true, state: "done", outcome: { reading }, nextDueAtMs: null } as const;
		if (jar?.state === "discarded") return { ...kept, tell: { text: "reply.closed", fill: {}, urgent: false } };
		const fill = { jar: String(task.brief["jar"]) };
		return {
			...kept,
			tell: { text: "jar.setAside", fill, urgent: true },
			tellSupervisor: { text: "jar.contradicts.supervisor", fill, urgent: false },
		};
	}

	private async told(
		tx: Transaction,
		task: TaskRow,
		forecast: Forecast,
		isBackInUse: boolean,
		{ policy, nowMs }: Moment,
	): Promise<Answered["tell"]> {
		const jar = String(task.brief["jar"]);
		const figures = { jar, ...roundedFigures(forecast) };
		if (forecast.contradiction)
			return { text: forecast.contradiction.inARow === 1 ? "jar.contradicts" : "jar.setAside", fill: figures, urgent: true };
		if (forecast.verdict === "weak" || forecast.verdict === "too old") return { text: "jar.weak", fill: figures, urgent: true };
		const [jarRow] = await tx.query<{ setAsideUntilMs: number | null }>("SELECT set_aside_until_ms FROM batch WHERE id = $1", [
			task.subjectId,
		]);
		// It bears a label for surfaces: no dose is told from it until a test has settled that it is strong.
		const isSetAside = jarRow?.setAsideUntilMs != null;
		const doses = isSetAside ? undefined : await keeperDoseLine(tx, task.subjectId, forecast.now, policy, nowMs);
		if (doses === undefined || forecast.retestAtMs === null) return { text: "jar.testFirst", fill: figures, urgent: false };
		await doseWasTold(tx, task.subjectId, forecast.now.medianGPerL, forecast, policy, nowMs);
		const [area] = await tx.query<{ timeZone: string }>("SELECT time_zone FROM area WHERE id = $1", [task.areaId]);
		return {
			text: isBackInUse ? "jar.backInUse" : "dose.told",
			fill: { ...figures, doses, nextTestOn: localDateOf(forecast.retestAtMs, area?.timeZone ?? "UTC") },
			urgent: false,
		};
	}
}

/** What the supervisor should know too: a jar that is no longer to be used, or readings that don't fit. */
function supervisorTold(task: TaskRow, forecast: Forecast): Pick<Answered, "tellSupervisor"> {
	const fill = { jar: String(task.brief["jar"]), ...roundedFigures(forecast) };
	if (forecast.contradiction) return { tellSupervisor: { text: "jar.contradicts.supervisor", fill, urgent: false } };
	if (forecast.retestAtMs !== null) return {};
	return { tellSupervisor: { text: "jar.weak.supervisor", fill, urgent: false } };
}

/** Where it isn't the chance of being too weak: how the brief names it. */
const BRIEF_REASONS: Readonly<Partial<Record<Forecast["retestReason"], string>>> = {
	longestTime: "longest time",
	calendar: "longest time",
};

const isOver = ({ state }: Pick<DueJar, "state">): boolean => state === "discarded" || state === "empty";

function openingOf(subject: DueSubject, jar: DueJar, forecast: Forecast, policy: Policy, scale: string): Opening {
	const figures = forecast.atRetest ?? forecast.now;
	const days = Math.max(0, Math.round((subject.dueAtMs - jar.madeAtMs) / DAY_MS));
	const contradicted = forecast.retestReason === "contradicted";
	const chancePercent = Math.round(figures.chanceUnderLimit * 100);
	return {
		subject,
		assigneeId: jar.keeperId,
		...(contradicted && { text: "retest.fresh" }),
		why: contradicted
			? "the last reading contradicts what was believed"
			: forecast.retestReason === "calendar"
				? `${policy.retestEveryDays} days after its making or its last test`
				: `chance under ${policy.usableLimitGPerL} g/L reached ${chancePercent} % after ${days} days (${forecast.retestReason})`,
		brief: {
			jar: jar.code,
			days,
			chancePercent,
			reason: contradicted ? "contradicted" : (BRIEF_REASONS[forecast.retestReason] ?? "chance"),
			strengthGPerL: rounded(figures.medianGPerL, 1),
			lowGPerL: rounded(figures.lowGPerL, 1),
			highGPerL: rounded(figures.highGPerL, 1),
			limitGPerL: policy.usableLimitGPerL,
			sampleMl: forecast.nextDilution.sampleMl,
			waterL: forecast.nextDilution.madeUpToL,
			kit: policy.testKit,
			scale,
		},
	};
}
