import type { Policy } from "../programme/policy.js";
import { batteryForRun, type ShareBounds } from "../science/battery.js";
import { runMinutesNeeded } from "../science/faraday.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { MINUTE_MS } from "../time/clock.js";
import { type BatteryFacts, batteryFacts } from "./battery-facts.js";
import { asBattery, batteryState, restedCharge } from "./battery-state.js";
import { type EfficiencyChart, efficiencyChart } from "./efficiency.js";
import { type FaultEvidence, type LikelyCause, likelyCauses, saltEvidence } from "./fault-causes.js";
import { batchesOfRuns, type WeakBatch, weakOnes } from "./further.js";
import { type GeneratorFacts, generatorFacts, type RunFacts } from "./generator-facts.js";

/** Why a cause is looked for. */
export type FaultReason = "weak again" | "too weak" | "no gas";

/** A generator that makes weak bleach, what is known of why, and what is likely. */
export interface Fault {
	readonly facts: GeneratorFacts;
	readonly reason: FaultReason;
	readonly run: RunFacts;
	/** Null where no gas was seen, and nothing was tested. */
	readonly weak: WeakBatch | null;
	readonly battery: { readonly facts: BatteryFacts; readonly charge: ShareBounds } | null;
	readonly chart: EfficiencyChart;
	readonly saltGPerL: number;
	readonly evidence: FaultEvidence;
	readonly causes: readonly LikelyCause[];
}

/** @returns the faults by generator; one whose last run gives no reason to look isn't among them */
export async function faults(
	from: Pick<Transaction, "query">,
	generatorIds: readonly string[],
	policy: Policy,
): Promise<ReadonlyMap<string, Fault>> {
	const facts = await generatorFacts(from, generatorIds, policy.generators.testWithinHours);
	const lastRuns = new Map(
		[...facts].flatMap(([id, of]) => [[id, of.runs.filter(({ endedAtMs }) => endedAtMs !== null).at(-1)] as const]),
	);
	const batchIds = [...lastRuns.values()].flatMap((run) => run?.batchId ?? []);
	const batches = await batchesOfRuns(from, "batch", batchIds);
	const weak = new Map((await weakOnes(from, [...batches.values()], policy)).map((batch) => [batch.batchId, batch]));
	const batteries = await batteriesOf(from, generatorIds);
	const found = new Map<string, Fault>();
	for (const [id, of] of facts) {
		const run = lastRuns.get(id);
		if (!run) continue;
		const batch = weak.get(run.batchId ?? "") ?? null;
		const reason = reasonOf(run, batch, policy.generators.mostFurtherMinutes);
		if (reason) found.set(id, faultOf(of, run, batch, reason, batteries.get(run.batteryId ?? "") ?? null, policy));
	}
	return found;
}

function reasonOf(run: RunFacts, weak: WeakBatch | null, mostFurtherMinutes: number): FaultReason | null {
	if (weak && weak.furtherRuns > 0) return "weak again";
	if (weak && weak.minutes > mostFurtherMinutes) return "too weak";
	return run.gasSeen === false ? "no gas" : null;
}

async function batteriesOf(
	from: Pick<Transaction, "query">,
	generatorIds: readonly string[],
): Promise<ReadonlyMap<string, BatteryFacts>> {
	if (generatorIds.length === 0) return new Map();
	const rows = await from.query<{ id: string }>(
		`SELECT id FROM battery WHERE in_use AND generator_id IN (${placeholders(generatorIds.length)})`,
		generatorIds,
	);
	return batteryFacts(
		from,
		rows.map(({ id }) => id),
	);
}

function faultOf(
	facts: GeneratorFacts,
	run: RunFacts,
	weak: WeakBatch | null,
	reason: FaultReason,
	batteryOf: BatteryFacts | null,
	policy: Policy,
): Fault {
	const chart = efficiencyChart(facts);
	// The salt of further minutes comes on top of what the first run was given.
	const first = facts.runs.find(({ id }) => id === (run.furtherOfRunId ?? run.id)) ?? run;
	const saltGPerL = first.waterL > 0 ? first.saltG / first.waterL : 0;
	const battery = batteryOf && { facts: batteryOf, charge: chargeBefore(batteryOf, first) };
	const evidence: FaultEvidence = {
		battery: batteryEvidence(facts, first, battery, policy),
		electrode:
			chart.care.kind === "needsCare" || chart.belowLimit ? "fallen" : chart.care.kind === "steady" ? "steady" : "unknown",
		salt: first.waterL > 0 ? saltEvidence(saltGPerL, facts.generator.saltGPerL) : "unknown",
	};
	return { facts, reason, run, weak, battery, chart, saltGPerL, evidence, causes: likelyCauses(evidence) };
}

/** What the battery held when the run began: its voltage at rest just before, or what is reckoned of it before that run. */
function chargeBefore(facts: BatteryFacts, run: RunFacts): ShareBounds {
	const read = run.restVoltageV === null ? null : restedCharge({ restVoltageV: run.restVoltageV, restHours: 6 });
	if (read) return read;
	const upTo = <T>(rows: readonly T[], at: (row: T) => number) => rows.filter((row) => at(row) < run.startedAtMs);
	return batteryState({
		...facts,
		readings: upTo(facts.readings, ({ readAtMs }) => readAtMs),
		chargedAtMs: upTo(facts.chargedAtMs, (atMs) => atMs),
		runs: upTo(facts.runs, ({ startedAtMs }) => startedAtMs),
	});
}

function batteryEvidence(
	facts: GeneratorFacts,
	run: RunFacts,
	battery: Fault["battery"],
	policy: Policy,
): FaultEvidence["battery"] {
	if (run.powerSource !== "battery") return "not used";
	if (!battery || run.endedAtMs === null) return "unknown";
	const { generator } = facts;
	const verdict = batteryForRun({
		battery: asBattery(battery.facts.battery),
		charge: battery.charge,
		currentA: run.currentA ?? generator.ratedCurrentA,
		runMinutes: Math.max((run.endedAtMs - run.startedAtMs) / MINUTE_MS, plannedMinutes(generator, policy)),
		stopShare: policy.generators.battery.stopShare,
	});
	return verdict.kind === "notEnough" ? "not enough" : verdict.kind;
}

function plannedMinutes(generator: GeneratorFacts["generator"], { generators: rules }: Policy): number {
	const batch = { ...generator, strengthGPerL: rules.targetStrengthGPerL, volumeL: generator.batchVolumeL };
	return Math.min(2880, runMinutesNeeded({ ...batch, currentA: generator.ratedCurrentA }));
}
