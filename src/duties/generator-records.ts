import { recordCharged, recordReading, registerBattery, replaceBattery } from "../generators/batteries.js";
import type { BatteryState } from "../generators/battery-state.js";
import { type DoneCare, recordCare } from "../generators/care.js";
import { CARE, CHECK_BATTERY, RUN_AGAIN } from "../generators/due-kinds.js";
import { openLot, registerLot } from "../generators/kit-lots.js";
import type { KitLotRow } from "../generators/kit-rows.js";
import type { BatteryReadingRow, BatteryRow } from "../generators/rows.js";
import { endRun, type KeptRun, type NewRun, type RunEnd, recordRun } from "../generators/runs.js";
import { type OutOfService, putInService, takeOutOfService } from "../generators/service.js";
import { runOnIfWeak } from "../generators/tested-run.js";
import { currentPolicy } from "../programme/policy.js";
import type { Calendars } from "../stock/places.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Moment } from "./kind.js";
import { withdrawSettledCare } from "./settled-care.js";
import { withdrawTasks } from "./withdraw.js";

/** What the office says of generators, batteries and reagents unasked: each a fact, and open work that it leaves nothing of is closed. */
export class GeneratorRecords {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		readonly ids: Ids,
		readonly calendars: Calendars,
	) {}

	/** @throws InputError as `recordRun` */
	run(run: NewRun): Promise<KeptRun> {
		return this.kept(async (tx, moment) => {
			const kept = await recordRun(tx, this, run, moment, "office");
			await this.overRun(tx, kept, moment);
			return kept;
		});
	}

	/** @throws InputError as `endRun` */
	endRun(generatorId: string, end: RunEnd): Promise<KeptRun> {
		return this.kept(async (tx, moment) => {
			const kept = await endRun(tx, this, generatorId, end, moment, "office");
			await this.overRun(tx, kept, moment);
			return kept;
		});
	}

	/** @throws InputError as `recordCare` */
	care(care: Omit<DoneCare, "taskId">): Promise<void> {
		return this.kept(async (tx, moment) => {
			await recordCare(tx, this.ids, { ...care, taskId: null }, moment);
			const over = { because: `said at the office: ${care.works.join(", ")}`, actor: care.byPersonId ?? "office" };
			await withdrawSettledCare(tx, this.ids, care.generatorId, moment, over);
		});
	}

	/** Work that a generator can't have while it is out of service is closed; a fault is still looked for. @throws InputError as `takeOutOfService` */
	outOfService(out: OutOfService): Promise<void> {
		return this.kept(async (tx, moment) => {
			await takeOutOfService(tx, this.ids, out, moment);
			const over = {
				evidence: { because: "the generator is out of service", reason: out.reason },
				actor: out.byPersonId ?? "office",
				nowMs: moment.nowMs,
			};
			await withdrawTasks(tx, this.ids, { ...over, kind: CARE, subjectIds: [out.generatorId] });
			const runs = await tx.query<{ id: string }>(
				`SELECT r.id FROM generator_run r JOIN task t ON t.kind = $1 AND t.state = 'open' AND t.subject_id = r.id WHERE r.generator_id = $2`,
				[RUN_AGAIN, out.generatorId],
			);
			await withdrawTasks(tx, this.ids, { ...over, kind: RUN_AGAIN, subjectIds: runs.map(({ id }) => id) });
		});
	}

	/** @throws InputError as `putInService` */
	inService(back: { readonly generatorId: string; readonly untilMs: number; readonly byPersonId: string | null }): Promise<void> {
		return this.kept(async (tx, moment) => {
			await putInService(tx, this.ids, back, moment);
			await runOnIfWeak(tx, back.generatorId, moment);
		});
	}

	/** @throws InputError as `registerBattery` */
	battery(battery: Omit<BatteryRow, "id" | "inUse">): Promise<BatteryRow> {
		return this.kept((tx, moment) => registerBattery(tx, this.ids, battery, moment));
	}

	/** @throws InputError as `recordReading` */
	batteryRead(reading: Omit<BatteryReadingRow, "id" | "recordedAtMs" | "taskId">): Promise<BatteryState> {
		return this.kept(async (tx, moment) => {
			const state = await recordReading(tx, this.ids, { ...reading, taskId: null }, moment);
			await withdrawTasks(tx, this.ids, {
				kind: CHECK_BATTERY,
				subjectIds: [reading.batteryId],
				evidence: { because: "the battery was read", volts: reading.restVoltageV },
				actor: reading.readerId ?? "office",
				nowMs: moment.nowMs,
			});
			return state;
		});
	}

	/** @throws InputError as `recordCharged` */
	batteryCharged(batteryId: string, doneAtMs: number, byPersonId: string | null): Promise<BatteryState> {
		return this.kept((tx, moment) => recordCharged(tx, this.ids, batteryId, doneAtMs, { byPersonId, taskId: null }, moment));
	}

	/** @throws InputError as `replaceBattery` */
	batteryReplaced(batteryId: string, doneAtMs: number, byPersonId: string | null): Promise<BatteryRow> {
		return this.kept(async (tx, moment) => {
			const next = await replaceBattery(tx, this.ids, batteryId, doneAtMs, { byPersonId, taskId: null }, moment);
			const evidence = { because: `battery ${next.code} stands in its place` };
			const actor = byPersonId ?? "office";
			await withdrawTasks(tx, this.ids, { kind: CHECK_BATTERY, subjectIds: [batteryId], evidence, actor, nowMs: moment.nowMs });
			return next;
		});
	}

	/** @throws InputError as `registerLot` */
	lot(lot: Omit<KitLotRow, "id" | "state">): Promise<KitLotRow> {
		return this.kept((tx, moment) => registerLot(tx, this.ids, lot, moment, "office"));
	}

	/** @throws InputError as `openLot` */
	lotOpened(lotId: string, openedOn: string): Promise<KitLotRow> {
		return this.kept((tx, moment) => openLot(tx, this.ids, lotId, openedOn, moment, "office"));
	}

	private async overRun(tx: Transaction, { run }: KeptRun, moment: Moment): Promise<void> {
		const actor = run.operatorId ?? "office";
		if (run.furtherOfRunId !== null)
			await withdrawTasks(tx, this.ids, {
				kind: RUN_AGAIN,
				subjectIds: [run.furtherOfRunId],
				evidence: { because: "further minutes were put on file", run: run.code },
				actor,
				nowMs: moment.nowMs,
			});
	}

	private kept<T>(work: (tx: Transaction, moment: Moment) => Promise<T>): Promise<T> {
		return this.store.work.run(async (tx) => work(tx, { nowMs: this.clock.nowMs(), policy: await currentPolicy(tx) }));
	}
}
