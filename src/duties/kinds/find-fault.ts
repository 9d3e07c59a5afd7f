import { recordCharged, replaceBattery } from "../../generators/batteries.js";
import { recordCare } from "../../generators/care.js";
import { FIND_FAULT } from "../../generators/due-kinds.js";
import { type FaultCause, FINDINGS, type Finding } from "../../generators/fault-causes.js";
import { type Fault, faults } from "../../generators/faults.js";
import type { CareWork } from "../../generators/rows.js";
import { runOnIfWeak } from "../../generators/tested-run.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Ids } from "../../time/ids.js";
import { makingCautions } from "../cautions.js";
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
import { notDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";
import { withdrawSettledCare } from "../settled-care.js";

/** A generator makes weak bleach and running on doesn't mend it: its operator looks for the cause, the likeliest first. */
export class FindFault extends DutyKind {
	readonly name = FIND_FAULT;
	readonly texts = { first: "fault.first", again: "fault.again", supervisor: "fault.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy }: Moment): Promise<(Opening | Postponement)[]> {
		const found = await faults(
			tx,
			due.map(({ subjectId }) => subjectId),
			policy,
		);
		return due.map((subject) => {
			const fault = found.get(subject.subjectId);
			if (!fault) return { subject, dueAtMs: null };
			const first = fault.causes[0]!;
			return {
				subject,
				assigneeId: fault.facts.generator.operatorId ?? fault.run.operatorId,
				why: `${fault.reason}: ${fault.causes.map(({ cause, share }) => `${cause} ${Math.round(share * 100)} %`).join(", ")}`,
				brief: { ...briefOf(fault), cause: first.cause },
			};
		});
	}

	guidance(brief: Brief): Guidance {
		const order = [brief["cause1"], brief["cause2"], brief["cause3"]] as FaultCause[];
		const reasons: Readonly<Record<string, InstructionText>> = {
			"no gas": "fault.why.noGas",
			"weak again": "fault.why.weakAgain",
		};
		return {
			why: reasons[String(brief["reason"])] ?? "fault.why.veryWeak",
			steps: [...order.map((cause) => `fault.${cause}` as const), "fault.mendFirst"],
			cautions: makingCautions("caution.descale", "caution.neverScrape"),
			answerWith: "fault.answer",
			also: Object.fromEntries(order.map((cause, at) => [`percent${at + 1}`, brief[`${cause}Percent`] as number])),
			asks: {
				choices: [
					...FINDINGS.map(({ number }) => ({ value: String(number), text: `fault.found.${number}` as const })),
					NOTHING_FOUND,
				],
			},
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const generator = String(task.brief["generator"]);
		if (answer.kind === "cannot") return notDone(generator, moment);
		const finding = FINDINGS.find(({ number }) => answer.kind === "reading" && answer.reading === String(number));
		if (!finding && !(answer.kind === "reading" && answer.reading === "0"))
			return answer.kind === "reading"
				? refused("reply.outOfScale", { scale: "0-5", example: `${task.code} 1` })
				: refused("reply.unclear", { example: `${task.code} 1` });
		if (!finding)
			return {
				accepted: true,
				state: "done",
				outcome: { found: "nothing" },
				tell: { text: "work.done", fill: {}, urgent: false },
				tellSupervisor: { text: "fault.nothing.supervisor", fill: { generator }, urgent: false },
				nextDueAtMs: null,
			};
		await this.follow(tx, task, finding, byPersonId, moment);
		const mended = await runOnIfWeak(tx, task.subjectId, moment);
		return {
			accepted: true,
			state: "done",
			outcome: { number: finding.number, cause: finding.cause, found: finding.found, runAgain: mended },
			tell: { text: "fault.told", fill: { generator }, urgent: false },
			tellSupervisor: { text: "fault.found.supervisor", fill: { generator, cause: finding.cause }, urgent: false },
			nextDueAtMs: null,
		};
	}

	/** What was found and mended becomes a fact like any other. */
	private async follow(
		tx: Transaction,
		task: TaskRow,
		finding: Finding,
		byPersonId: string | null,
		moment: Moment,
	): Promise<void> {
		const said = { byPersonId, taskId: task.id };
		if (finding.cause === "battery") {
			const batteryId = task.brief["batteryId"];
			if (typeof batteryId !== "string") return;
			const [battery] = await tx.query("SELECT id FROM battery WHERE id = $1 AND in_use", [batteryId]);
			if (!battery) return;
			if (finding.number === 1) await recordCharged(tx, this.ids, batteryId, moment.nowMs, said, moment);
			else await replaceBattery(tx, this.ids, batteryId, moment.nowMs, said, moment);
			return;
		}
		const works: CareWork[] =
			finding.number === 3 ? ["descaled", "inspected"] : finding.number === 4 ? ["electrode replaced"] : ["salt corrected"];
		await recordCare(tx, this.ids, { ...said, generatorId: task.subjectId, works, doneAtMs: moment.nowMs, look: null }, moment);
		const over = { because: `found and mended: ${finding.found}`, actor: byPersonId ?? "office" };
		await withdrawSettledCare(tx, this.ids, task.subjectId, moment, over);
	}
}

const NOTHING_FOUND = { value: "0", text: "fault.found.0" } as const;

function briefOf(fault: Fault): Brief {
	const { generator } = fault.facts;
	const brief: Record<string, string | number> = { generator: generator.code, reason: fault.reason };
	fault.causes.forEach(({ cause, share }, at) => {
		brief[`cause${at + 1}`] = cause;
		brief[`${cause}Percent`] = Math.round(share * 100);
	});
	if (fault.weak) {
		brief["jar"] = fault.weak.batchCode;
		brief["strengthGPerL"] = Math.round(fault.weak.strengthGPerL * 10) / 10;
		brief["minutes"] = fault.weak.minutes;
	}
	if (fault.battery) brief["batteryId"] = fault.battery.facts.battery.id;
	brief["batteryEvidence"] = batteryText(fault);
	brief["electrodeEvidence"] = electrodeText(fault);
	brief["saltEvidence"] = `${Math.round(fault.saltGPerL)} g/L weighed in, ${Math.round(generator.saltGPerL)} g/L planned`;
	return brief;
}

function batteryText({ battery, run, evidence }: Fault): string {
	if (evidence.battery === "not used") return `the run was on ${run.powerSource}, not on a battery`;
	if (!battery) return "no battery is on file for that run";
	const { lowShare, share, highShare } = battery.charge;
	const percent = (of: number) => Math.round(of * 100);
	const read = run.restVoltageV === null ? "" : `, read at ${run.restVoltageV} V`;
	return `${battery.facts.battery.code} held ${percent(share)} % (${percent(lowShare)} to ${percent(highShare)} %) before the run${read}: ${evidence.battery} for it`;
}

function electrodeText({ chart, facts }: Fault): string {
	const hours = `${Math.round(facts.sinceReplaced.hours)} h run with this electrode`;
	if (chart.recentEfficiency === null) return `its efficiency wasn't measured; ${hours}`;
	const recent = `efficiency ${Math.round(chart.recentEfficiency * 100)} % of late`;
	const limit = chart.limits ? `, control limit ${Math.round(chart.limits.lower * 100)} %` : "";
	return `${recent}${limit}; ${hours}`;
}
