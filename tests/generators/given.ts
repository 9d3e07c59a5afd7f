import { GeneratorRow } from "../../src/generators/rows.js";
import { type NewRun, type Product, recordRun } from "../../src/generators/runs.js";
import { currentPolicy } from "../../src/programme/policy.js";
import { MINUTE_MS } from "../../src/time/clock.js";
import { emptyLedger } from "../support/unguarded-ledger.js";
import type { World } from "../support/world.js";

/** 8.4 A through three cells at 60 %: 5 L reach 5 g/L in 75 min (Faraday's law). The volunteer runs it. */
export async function aGenerator(world: World, over: Partial<GeneratorRow> = {}): Promise<GeneratorRow> {
	const row: GeneratorRow = {
		id: "gen",
		code: "G1",
		name: "Invented generator",
		areaId: "area",
		ratedCurrentA: 8.4,
		cellsInSeries: 3,
		currentEfficiency: 0.6,
		batchVolumeL: 5,
		saltGPerL: 30,
		inService: true,
		operatorId: "vol",
		latitudeDeg: null,
		longitudeDeg: null,
		...over,
	};
	await world.store.work.run((tx) => tx.manager.insert(GeneratorRow, row));
	return row;
}

export const JAR: Product = {
	keeperCode: "vol",
	wall: "opaque",
	exposure: "indoors",
	litAreaM2: 0,
	ph: 9,
	phKnowledge: "strip",
};

/** A run of 75 min that has just ended, current read, on the mains. */
export function aRun(world: World, over: Partial<NewRun> = {}): NewRun {
	return {
		generatorId: "gen",
		operatorId: "vol",
		startedAtMs: world.clock.nowMs() - 75 * MINUTE_MS,
		endedAtMs: world.clock.nowMs(),
		saltG: 150,
		waterL: 5,
		powerSource: "mains",
		batteryId: null,
		currentA: 8.4,
		restVoltageV: null,
		gasSeen: true,
		furtherOfRunId: null,
		rinsed: false,
		product: JAR,
		...over,
	};
}

/** Puts it on file as the API does. */
export function keepRun(world: World, run: NewRun) {
	return world.store.work.run(async (tx) => {
		const moment = { nowMs: world.clock.nowMs(), policy: await currentPolicy(tx) };
		return recordRun(tx, world, run, moment, "office");
	});
}

export const dueOf = async (world: World, kind: string) =>
	world.store.query<{ subjectId: string; dueAtMs: number | null }>(
		"SELECT subject_id, due_at_ms FROM due WHERE kind = $1 ORDER BY subject_id",
		[kind],
	);

/** Moves the clock and tells when it stands. */
export function wait(world: World, ms: number): number {
	world.clock.advance(ms);
	return world.clock.nowMs();
}

/** Takes away all that a test of this room writes; area and people stay, so that a suite can keep one world. */
export async function emptied(world: World): Promise<void> {
	await world.store.work.run(async (tx) => {
		await emptyLedger(tx);
		for (const table of [
			...["reply", "message_failure", "message", "task", "due", "kit_comparison", "kit_lot", "generator_run"],
			...[
				"battery_reading",
				"battery_care",
				"battery",
				"generator_care",
				"generator_outage",
				"strength_test",
				"stock_move",
				"batch",
				"generator",
			],
		])
			await tx.affected(`DELETE FROM ${table}`);
	});
}
