import { recordReading } from "../../generators/batteries.js";
import { type BatteryFacts, batteryFacts } from "../../generators/battery-facts.js";
import {
	asBattery,
	type BatteryState,
	batteryState,
	type PlannedCheck,
	plannedCheck,
	restedCharge,
} from "../../generators/battery-state.js";
import { CHECK_BATTERY } from "../../generators/due-kinds.js";
import { MOST_REST_VOLTAGE_V } from "../../generators/run-checks.js";
import { batteryForRun } from "../../science/battery.js";
import { runMinutesNeeded } from "../../science/faraday.js";
import { REST_HOURS_NEEDED } from "../../science/rest-voltage.js";
import { placeholders } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { HOUR_MS } from "../../time/clock.js";
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
} from "../kind.js";
import { noLongerDue } from "../no-longer-due.js";
import { notDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** Under this share of its label's capacity a battery is worn out. Source: end of life at 80 % (common practice, no source). */
const WORN_SHARE = 0.8;

/** A battery's voltage at rest is read: it tells the charge, and together with the runs how much the battery still holds. */
export class CheckBattery extends DutyKind {
	readonly name = CHECK_BATTERY;
	readonly texts = { first: "battery.first", again: "battery.again", supervisor: "battery.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const facts = await batteryFacts(
			tx,
			due.map(({ subjectId }) => subjectId),
		);
		const carers = await carersOf(tx, due);
		return due.map((subject) => {
			const of = facts.get(subject.subjectId);
			const planned = of && plannedCheck(of, policy.generators.battery, nowMs);
			if (!of || !planned) return { subject, dueAtMs: null };
			if (planned.dueAtMs > nowMs) return { subject, dueAtMs: planned.dueAtMs };
			return {
				subject,
				assigneeId: carers.get(subject.subjectId) ?? null,
				why: reasonOf(planned),
				brief: briefOf(of, batteryState(of), planned),
			};
		});
	}

	override overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		return noLongerDue(this, tx, due, moment, "the battery was read, or isn't in use any more");
	}

	guidance(): Guidance {
		return {
			why: "battery.why",
			steps: ["battery.rest", "battery.meter", "battery.read", "battery.wipe"],
			cautions: makingCautions(),
			answerWith: "battery.answer",
			also: { restHours: REST_HOURS_NEEDED },
			asks: { number: "volts" },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const battery = String(task.brief["battery"]);
		if (answer.kind === "cannot") return notDone(battery, moment);
		const volts = answer.kind === "reading" ? Number(answer.reading) : Number.NaN;
		const example = `${task.code} 12.45`;
		if (answer.kind === "done") return refused("reply.unclear", { example });
		if (!(volts >= 0 && volts <= MOST_REST_VOLTAGE_V))
			return refused("reply.outOfScale", { scale: `0-${MOST_REST_VOLTAGE_V} V`, example });
		const reading = {
			batteryId: task.subjectId,
			readAtMs: answer.takenAtMs,
			restVoltageV: volts,
			restHours: REST_HOURS_NEEDED,
			readerId: byPersonId,
			taskId: task.id,
		};
		const state = await recordReading(tx, this.ids, reading, moment);
		if (!restedCharge(reading))
			return {
				accepted: true,
				state: "done",
				outcome: { volts, charge: "unknown: it was being charged or hadn't rested" },
				tell: { text: "battery.unrested", fill: { battery }, urgent: false },
				nextDueAtMs: answer.takenAtMs + UNRESTED_AGAIN_MS,
			};
		return this.told(tx, task, volts, state, moment);
	}

	private async told(
		tx: Transaction,
		task: TaskRow,
		volts: number,
		state: BatteryState,
		{ nowMs, policy }: Moment,
	): Promise<Answered> {
		const facts = (await batteryFacts(tx, [task.subjectId])).get(task.subjectId)!;
		const battery = facts.battery.code;
		const enough = await carriesNextRun(tx, facts, state, policy.generators);
		const figures = { percent: percent(state.share), lowPercent: percent(state.lowShare), highPercent: percent(state.highShare) };
		const worn = state.capacityShare !== null && state.capacityShare < WORN_SHARE;
		return {
			accepted: true,
			state: "done",
			outcome: {
				volts,
				...figures,
				carriesNextRun: enough,
				capacityPercent: state.capacityShare === null ? null : percent(state.capacityShare),
			},
			tell: { text: "battery.told", fill: { battery, ...figures, enough: enough ? "yes" : "no" }, urgent: false },
			...(worn
				? {
						tellSupervisor: {
							text: "battery.worn.supervisor",
							fill: { battery, percent: percent(state.capacityShare ?? 0) },
							urgent: false,
						},
					}
				: {}),
			nextDueAtMs: plannedCheck(facts, policy.generators.battery, nowMs)?.dueAtMs ?? null,
		};
	}
}

/** It rests first: no sooner than tomorrow morning. */
const UNRESTED_AGAIN_MS = 20 * HOUR_MS;

async function carersOf(tx: Transaction, due: readonly DueSubject[]): Promise<ReadonlyMap<string, string | null>> {
	const rows = await tx.query<{ id: string; operatorId: string | null }>(
		`SELECT b.id, g.operator_id FROM battery b LEFT JOIN generator g ON g.id = b.generator_id WHERE b.id IN (${placeholders(due.length)})`,
		due.map(({ subjectId }) => subjectId),
	);
	return new Map(rows.map(({ id, operatorId }) => [id, operatorId]));
}

async function carriesNextRun(
	tx: Transaction,
	{ battery }: BatteryFacts,
	state: BatteryState,
	rules: Moment["policy"]["generators"],
): Promise<boolean> {
	const [generator] = await tx.query<{
		ratedCurrentA: number;
		cellsInSeries: number;
		currentEfficiency: number;
		batchVolumeL: number;
	}>("SELECT rated_current_a, cells_in_series, current_efficiency, batch_volume_l FROM generator WHERE id = $1", [
		battery.generatorId,
	]);
	if (!generator) return state.lowShare > rules.battery.stopShare;
	const currentA = generator.ratedCurrentA;
	const minutes = runMinutesNeeded({
		...generator,
		currentA,
		volumeL: generator.batchVolumeL,
		strengthGPerL: rules.targetStrengthGPerL,
	});
	const run = { battery: asBattery(battery), charge: state, currentA, runMinutes: Math.min(2880, minutes) };
	return batteryForRun({ ...run, stopShare: rules.battery.stopShare }).kind === "enough";
}

const percent = (share: number): number => Math.round(share * 100);

function reasonOf({ reason, figure, limit }: PlannedCheck): string {
	if (reason === "days") return `not read for ${Math.round(figure)} days, once in ${limit} is due`;
	if (reason === "runs") return `${figure} runs since it was read, once in ${limit} is due`;
	return `counted down to ${percent(figure)} %, where a run should stop at ${percent(limit)} %`;
}

function briefOf({ battery }: BatteryFacts, state: BatteryState, planned: PlannedCheck): Brief {
	return {
		battery: battery.code,
		reason: reasonOf(planned),
		percent: percent(state.share),
		lowPercent: percent(state.lowShare),
		highPercent: percent(state.highShare),
	};
}
