import { batteryFacts } from "../../generators/battery-facts.js";
import { asBattery, batteryState } from "../../generators/battery-state.js";
import { RUN_AGAIN } from "../../generators/due-kinds.js";
import { type BatchOfRun, batchesOfRuns, type WeakBatch, weakOnes } from "../../generators/further.js";
import { isStorable, strengthRunOn } from "../../generators/product.js";
import type { GeneratorRow } from "../../generators/rows.js";
import { recordRun } from "../../generators/runs.js";
import type { Policy } from "../../programme/policy.js";
import { batteryForRun } from "../../science/battery.js";
import { dilutionAirM3, hydrogenL } from "../../science/hydrogen.js";
import type { Forecast } from "../../stock/forecast.js";
import type { BatchParts } from "../../stock/register.js";
import { only, type Transaction } from "../../store/unit-of-work.js";
import { MINUTE_MS } from "../../time/clock.js";
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
	type Overtaken,
	type Postponement,
	type TaskAnswer,
} from "../kind.js";
import { noLongerDue } from "../no-longer-due.js";
import { notDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** Longer than this nobody runs a weak batch on; a larger number is a slip. */
const MOST_MINUTES = 600;

/** A run's batch was tested and is too weak: the generator is run on for as many minutes as it still needs. */
export class RunAgain extends DutyKind {
	readonly name = RUN_AGAIN;
	readonly texts = { first: "run.first", again: "run.again", supervisor: "run.supervisor" } as const;

	constructor(private readonly parts: BatchParts) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy }: Moment): Promise<(Opening | Postponement)[]> {
		const batches = await batchesOfRuns(
			tx,
			"run",
			due.map(({ subjectId }) => subjectId),
		);
		const weak = new Map((await weakOnes(tx, [...batches.values()], policy)).map((batch) => [batch.runId, batch]));
		const batteries = await batteryFacts(tx, [...new Set([...weak.values()].flatMap(({ batteryId }) => batteryId ?? []))]);
		return due.map((subject) => {
			const batch = weak.get(subject.subjectId);
			// It works no more, or the batch is gone or was mended: not now; the next fact sets another instant.
			if (!batch?.facts.generator.inService) return { subject, dueAtMs: null };
			const battery = batteries.get(batch.batteryId ?? "");
			const { stopShare } = policy.generators.battery;
			const verdict =
				battery &&
				batteryForRun({
					battery: asBattery(battery.battery),
					charge: batteryState(battery),
					currentA: batch.currentA,
					runMinutes: Math.min(2880, batch.minutes),
					stopShare,
				});
			return {
				subject,
				assigneeId: batch.facts.generator.operatorId ?? batch.operatorId,
				why: `batch ${batch.batchCode} at ${batch.strengthGPerL.toFixed(1)} g/L, under ${policy.generators.weakUnderGPerL}: ${batch.minutes} min more`,
				brief: {
					...figuresOf(batch, policy.generators.targetStrengthGPerL, policy.generators.weakUnderGPerL),
					...(battery && verdict ? { battery: battery.battery.code, batteryLasts: verdict.kind } : {}),
				},
			};
		});
	}

	override overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		return noLongerDue(this, tx, due, moment, "the batch is strong enough, gone, or its generator is out of service");
	}

	guidance(brief: Brief): Guidance {
		return {
			why: "run.why",
			steps: ["run.pourBack", powerStep(brief), "run.run", "run.off", "run.jar", "run.test"],
			cautions: makingCautions("caution.air"),
			answerWith: "run.answer",
			asks: { number: "minutes", planned: Number(brief["minutes"]), done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		if (answer.kind === "cannot") return notDone(String(task.brief["generator"]), moment);
		const batch = (await batchesOfRuns(tx, "run", [task.subjectId])).get(task.subjectId);
		if (!batch || batch.batchState === "discarded") return { ...refused("reply.closed", {}), accepted: true };
		const endedAtMs = answer.kind === "reading" ? answer.takenAtMs : moment.nowMs;
		// Nobody can have run it for longer than the generator has stood since its last run, whatever that filled.
		const [last] = await tx.query<{ endedAtMs: number | null }>(
			"SELECT MAX(ended_at_ms) AS ended_at_ms FROM generator_run WHERE generator_id = $1",
			[batch.generatorId],
		);
		const lastEndedAtMs = Math.max(batch.lastEndedAtMs, last?.endedAtMs ?? 0);
		const most = Math.min(MOST_MINUTES, Math.floor((endedAtMs - lastEndedAtMs) / MINUTE_MS));
		const minutes = Number(answer.kind === "reading" ? answer.reading : task.brief["minutes"]);
		if (!(Number.isInteger(minutes) && minutes >= 1 && minutes <= most))
			return refused("reply.outOfScale", {
				scale: `1-${Math.max(1, most)}`,
				example: `${task.code} ${Math.max(1, Math.min(most, 20))}`,
			});
		const impossible = await impossibleBy(tx, batch, minutes, moment.policy);
		if (impossible) return impossible;
		await recordRun(
			tx,
			this.parts,
			{
				generatorId: batch.generatorId,
				operatorId: byPersonId,
				startedAtMs: endedAtMs - minutes * MINUTE_MS,
				endedAtMs,
				saltG: 0,
				waterL: 0,
				powerSource: batch.powerSource,
				batteryId: batch.batteryId,
				currentA: null,
				restVoltageV: null,
				gasSeen: null,
				furtherOfRunId: batch.runId,
				rinsed: true,
				product: null,
			},
			moment,
			byPersonId ?? "office",
		);
		const strengthGPerL = await expectedNow(tx, batch.batchId);
		return {
			accepted: true,
			state: "done",
			outcome: { minutes, expectedGPerL: strengthGPerL },
			tell: { text: "run.told", fill: { jar: batch.batchCode, strengthGPerL }, urgent: false },
			nextDueAtMs: null,
		};
	}
}

/**
 * Most of the batch is gone by the books, so that the minutes would have made of the rest what can't be: the litres are wrong, or the
 * minutes. Nothing is put on file before somebody has said which.
 */
async function impossibleBy(tx: Transaction, batch: BatchOfRun, minutes: number, policy: Policy): Promise<Answered | undefined> {
	const generator = only(await tx.query<GeneratorRow & object>("SELECT * FROM generator WHERE id = $1", [batch.generatorId]));
	const { volumeL, forecast } = batch;
	if (!forecast) return undefined;
	const run = { startedAtMs: 0, endedAtMs: minutes * MINUTE_MS, currentA: null, gasSeen: null, volumeL };
	const { strengthGPerL } = strengthRunOn(forecast.now, run, generator, policy);
	if (volumeL > 0 && isStorable(strengthGPerL)) return undefined;
	const litres = Math.round(volumeL * 100) / 100;
	return refused("run.impossible", { jar: batch.batchCode, litres, minutes });
}

function figuresOf(batch: WeakBatch, targetGPerL: number, weakUnderGPerL: number): Brief {
	const { generator } = batch.facts;
	const chargeAh = (batch.currentA * batch.minutes) / 60;
	const gasL = hydrogenL({ chargeAh: Math.min(10_000, chargeAh), cellsInSeries: generator.cellsInSeries });
	return {
		jar: batch.batchCode,
		generator: generator.code,
		minutes: batch.minutes,
		strengthGPerL: tenth(batch.strengthGPerL),
		targetGPerL,
		weakUnderGPerL,
		missingChlorineG: tenth(batch.missingChlorineG),
		currentA: tenth(batch.currentA),
		efficiencyPercent: Math.round(batch.currentEfficiency * 100),
		volumeL: tenth(batch.volumeL),
		hydrogenL: tenth(gasL),
		airM3: tenth(dilutionAirM3(gasL)),
	};
}

function powerStep(brief: Brief): InstructionText {
	if (brief["battery"] === undefined) return "run.power";
	return brief["batteryLasts"] === "enough" ? "run.battery.enough" : "run.battery.charge";
}

async function expectedNow(tx: Transaction, batchId: string): Promise<number> {
	const { forecast } = only(await tx.query<{ forecast: string }>("SELECT forecast FROM batch WHERE id = $1", [batchId]));
	return tenth((JSON.parse(forecast) as Forecast).now.medianGPerL);
}

const tenth = (value: number): number => Math.round(value * 10) / 10;
