import { batteryFacts } from "../../generators/battery-facts.js";
import { asBattery, batteryState } from "../../generators/battery-state.js";
import { RUN_AGAIN } from "../../generators/due-kinds.js";
import { batchesOfRuns, type WeakBatch, weakOnes } from "../../generators/further.js";
import { recordRun } from "../../generators/runs.js";
import { batteryForRun } from "../../science/battery.js";
import { dilutionAirM3, hydrogenL } from "../../science/hydrogen.js";
import type { Forecast } from "../../stock/forecast.js";
import type { BatchParts } from "../../stock/register.js";
import { only, type Transaction } from "../../store/unit-of-work.js";
import { MINUTE_MS } from "../../time/clock.js";
import { makingCautions } from "../cautions.js";
import {
	type Answered,
	type Brief,
	type DueSubject,
	DutyKind,
	type Instructions,
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

	instructions(brief: Brief): Instructions {
		const code = brief["code"] ?? "the task's code";
		return {
			why: `Jar ${brief["jar"]} is at ${brief["strengthGPerL"]} g/L, under the ${brief["weakUnderGPerL"]} g/L that a new batch must have. It lacks ${brief["missingChlorineG"]} g of chlorine to ${brief["targetGPerL"]} g/L; at ${brief["currentA"]} A and ${brief["efficiencyPercent"]} % efficiency that takes ${brief["minutes"]} minutes.`,
			steps: [
				`Pour all ${brief["volumeL"]} L of jar ${brief["jar"]} back into the vessel of generator ${brief["generator"]}; add no salt and no water.`,
				powerStep(brief),
				`Put the electrode in, connect red to plus and black to minus, switch on and run for ${brief["minutes"]} minutes at about ${brief["currentA"]} A. Bubbles must rise; if none do, stop.`,
				"Switch off first, then disconnect. Take the electrode out and rinse it with clean water.",
				"Stir with a plastic spoon, fill the jar again, write the date and time on it, and put it into the shade.",
				"Test the jar when you are asked; until then nobody doses drinking water from it.",
			],
			cautions: makingCautions(
				`These minutes give off about ${brief["hydrogenL"]} L of hydrogen: leave the lid open, and work where the air of a large room (${brief["airM3"]} m³) passes.`,
			),
			answerWith: `${code} done, or ${code} and the minutes that it really ran. Or: ${code} can't`,
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		if (answer.kind === "cannot") return notDone(String(task.brief["generator"]), moment);
		const batch = (await batchesOfRuns(tx, "run", [task.subjectId])).get(task.subjectId);
		if (!batch || batch.batchState === "discarded") return { ...refused("reply.closed", {}), accepted: true };
		const endedAtMs = answer.kind === "reading" ? answer.takenAtMs : moment.nowMs;
		// Nobody can have run it for longer than it has stood since its last run.
		const most = Math.min(MOST_MINUTES, Math.floor((endedAtMs - batch.lastEndedAtMs) / MINUTE_MS));
		const minutes = Number(answer.kind === "reading" ? answer.reading : task.brief["minutes"]);
		if (!(Number.isInteger(minutes) && minutes >= 1 && minutes <= most))
			return refused("reply.outOfScale", {
				scale: `1-${Math.max(1, most)}`,
				example: `${task.code} ${Math.max(1, Math.min(most, 20))}`,
			});
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

function powerStep(brief: Brief): string {
	if (brief["battery"] === undefined) return "See that the power source will last that long.";
	const lasts = brief["batteryLasts"] === "enough" ? "holds enough for it" : "may not last: charge it first, until it is full";
	return `Battery ${brief["battery"]} ${lasts}.`;
}

async function expectedNow(tx: Transaction, batchId: string): Promise<number> {
	const { forecast } = only(await tx.query<{ forecast: string }>("SELECT forecast FROM batch WHERE id = $1", [batchId]));
	return tenth((JSON.parse(forecast) as Forecast).now.medianGPerL);
}

const tenth = (value: number): number => Math.round(value * 10) / 10;
