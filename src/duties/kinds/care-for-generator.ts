import { recordCare } from "../../generators/care.js";
import { type CareItem, type CarePlan, carePlan, type PlannedCare } from "../../generators/care-plan.js";
import { CARE } from "../../generators/due-kinds.js";
import { type GeneratorFacts, generatorFacts } from "../../generators/generator-facts.js";
import type { CareWork, ElectrodeLook } from "../../generators/rows.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Ids } from "../../time/ids.js";
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
	type Telling,
} from "../kind.js";
import { noLongerDue } from "../no-longer-due.js";
import { notDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** How an electrode may look, by the number that is answered. */
const LOOKS: Readonly<Record<string, ElectrodeLook>> = { "1": "clean", "2": "scale", "3": "damage" };

/** A generator is to be rinsed, looked at or descaled: one task lists all that is due. */
export class CareForGenerator extends DutyKind {
	readonly name = CARE;
	readonly texts = { first: "care.first", again: "care.again", supervisor: "care.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const { generators: rules } = policy;
		const facts = await generatorFacts(
			tx,
			due.map(({ subjectId }) => subjectId),
			rules.testWithinHours,
		);
		return due.map((subject) => {
			const of = facts.get(subject.subjectId);
			if (!of?.generator.inService) return { subject, dueAtMs: null };
			const plan = carePlan(of, rules, nowMs);
			const now = plan.items.filter(({ dueAtMs }) => dueAtMs <= nowMs);
			// Expected by the rate of the runs, but it hasn't run as often: it is expected anew.
			if (now.length === 0) return { subject, dueAtMs: plan.items[0]?.dueAtMs ?? null };
			return {
				subject,
				assigneeId: of.generator.operatorId ?? null,
				why: now.map(reasonOf).join("; "),
				brief: briefOf(of, plan, now),
			};
		});
	}

	override overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		return noLongerDue(this, tx, due, moment, "nothing is due for the generator any more");
	}

	guidance(brief: Brief): Guidance {
		const isDue = (item: CareItem) => brief[FIELDS[item]] === "yes";
		return {
			why: "care.why",
			steps: [
				...(["care.off", "care.rinse"] as const),
				...(isDue("inspect") ? (["care.look"] as const) : []),
				...(isDue("descale") ? (["care.descale", "care.acidAway"] as const) : []),
				"care.dry",
			],
			cautions: isDue("descale")
				? makingCautions("caution.acidOnBleach", "caution.waterFirst")
				: makingCautions("caution.noAcidToday"),
			answerWith: isDue("inspect") ? "care.answer.look" : "done.answer",
			asks: isDue("inspect")
				? { choices: (["1", "2", "3"] as const).map((value) => ({ value, text: `care.looks.${value}` as const })) }
				: { done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const generator = String(task.brief["generator"]);
		if (answer.kind === "cannot") return { ...notDone(generator, moment), ...(await this.order(tx, task, byPersonId, moment)) };
		const look = answer.kind === "done" ? "clean" : LOOKS[answer.reading];
		if (!look) return refused("reply.outOfScale", { scale: "1-3", example: `${task.code} 1` });
		const inspected = task.brief[FIELDS.inspect] === "yes" || answer.kind === "reading";
		const works: CareWork[] = [
			"rinsed",
			...(inspected ? (["inspected"] as const) : []),
			...(task.brief[FIELDS.descale] === "yes" ? (["descaled"] as const) : []),
		];
		const doneAtMs = answer.kind === "reading" ? answer.takenAtMs : moment.nowMs;
		const done = { generatorId: task.subjectId, works, doneAtMs, look: inspected ? look : null, byPersonId, taskId: task.id };
		await recordCare(tx, this.ids, done, moment);
		const ordered = await this.order(tx, task, byPersonId, moment);
		const damage: Telling | undefined =
			look === "damage" ? { text: "care.damage.supervisor", fill: { generator }, urgent: false } : undefined;
		const supervisor = damage ?? ordered.tellSupervisor;
		return {
			accepted: true,
			state: "done",
			outcome: { works, look: inspected ? look : null, ordered: ordered.tellSupervisor !== undefined },
			tell: { text: "work.done", fill: {}, urgent: false },
			...(supervisor ? { tellSupervisor: supervisor } : {}),
			nextDueAtMs: await this.nextDue(tx, task.subjectId, moment),
		};
	}

	/** The supervisor is told once for each electrode that a new one is to be ordered. */
	private async order(
		tx: Transaction,
		task: TaskRow,
		byPersonId: string | null,
		moment: Moment,
	): Promise<{ tellSupervisor?: Telling }> {
		if (task.brief[FIELDS["order electrode"]] !== "yes") return {};
		const { generator, electrodeHours, lifeLowHours, lifeHighHours } = task.brief;
		await recordCare(
			tx,
			this.ids,
			{
				generatorId: task.subjectId,
				works: ["electrode asked for"],
				doneAtMs: moment.nowMs,
				look: null,
				byPersonId,
				taskId: task.id,
			},
			moment,
		);
		const fill = {
			generator: String(generator),
			electrodeHours: Number(electrodeHours),
			lifeLowHours: Number(lifeLowHours),
			lifeHighHours: Number(lifeHighHours),
		};
		return { tellSupervisor: { text: "care.order.supervisor", fill, urgent: false } };
	}

	private async nextDue(tx: Transaction, generatorId: string, { nowMs, policy }: Moment): Promise<number | null> {
		const facts = (await generatorFacts(tx, [generatorId], policy.generators.testWithinHours)).get(generatorId);
		return (facts && carePlan(facts, policy.generators, nowMs).items[0]?.dueAtMs) ?? null;
	}
}

const FIELDS = { rinse: "rinse", inspect: "inspect", descale: "descale", "order electrode": "order" } as const satisfies Record<
	CareItem,
	string
>;

/** Vinegar or citric acid that covers a small electrode: a tenth of the batch, a litre at the least. Common practice, no source. */
const ACID_SHARE = 0.1;
const CITRIC_G_PER_L = 20;

function briefOf({ generator, sinceReplaced }: GeneratorFacts, { life }: CarePlan, now: readonly PlannedCare[]): Brief {
	const flag = (item: CareItem) => (now.some((planned) => planned.item === item) ? "yes" : "no");
	const acidL = Math.max(1, Math.round(generator.batchVolumeL * ACID_SHARE));
	return {
		generator: generator.code,
		reasons: now.map(reasonOf).join("; "),
		rinse: flag("rinse"),
		inspect: flag("inspect"),
		descale: flag("descale"),
		order: flag("order electrode"),
		electrodeHours: Math.round(sinceReplaced.hours),
		lifeLowHours: Math.round(life.lowHours),
		lifeHighHours: Math.round(life.highHours),
		rinseL: Math.max(1, Math.round(generator.batchVolumeL * ACID_SHARE)),
		acidL,
		citricG: acidL * CITRIC_G_PER_L,
	};
}

function reasonOf({ item, reason, figure, limit }: PlannedCare): string {
	const whole = (value: number) => Math.round(value);
	switch (reason) {
		case "after the run":
			return "it ran and hasn't been rinsed since";
		case "days":
			return `${item} is due after ${limit} days; ${whole(figure)} have gone by`;
		case "hours":
			return `${item} is due after ${limit} hours of work; it has run ${whole(figure)}`;
		case "runs":
			return `${item} is due after ${limit} runs; it has had ${figure}`;
		case "scale seen":
			return "scale was seen on the electrode";
		case "efficiency":
			return `its current efficiency has fallen to ${whole(figure * 100)} %, ${limit > 0 ? `beyond the control limit of ${whole(limit * 100)} %` : "beyond the control limit"}`;
		case "electrode life":
			return `its electrode has run ${whole(figure)} hours; a new one is ordered at ${whole(limit)}`;
	}
}
