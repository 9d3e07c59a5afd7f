import { mkdir, mkdtemp, readFile, rename, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { newLog } from "../../log/log.js";
import { preparedService } from "../../service.js";
import { settingsFrom } from "../../settings/settings.js";
import { type RunResult, runOne } from "../../simulation/one.js";
import { SimulatedPhones } from "../../simulation/phone.js";
import { SIMULATION_START_MS, sizeFor } from "../../simulation/programme.js";
import type { Way } from "../../simulation/ways.js";
import { VirtualClock } from "../../time/clock.js";
import { SeededRandomness } from "../../time/randomness.js";

export interface AllRuns {
	readonly households: number;
	readonly days: number;
	readonly seeds: readonly number[];
	readonly ways: readonly Way[];
	readonly out: string;
}

/** Runs each way in each world, one after the other; each result is a file, and one that is there already stands. */
export async function simulateAll(all: AllRuns, out: (text: string) => unknown): Promise<readonly RunResult[]> {
	await mkdir(join(all.out, "runs"), { recursive: true });
	const results: RunResult[] = [];
	for (const seed of all.seeds)
		for (const way of all.ways) {
			const file = join(all.out, "runs", `${all.households}-${all.days}-${seed}-${way.name}.json`);
			const kept = await resultIn(file);
			if (kept) {
				results.push(kept);
				continue;
			}
			const began = performance.now();
			const result = await simulated(all, seed, way);
			// Whole or not at all: a run that was cut off is run again.
			await writeFile(`${file}.part`, `${JSON.stringify(result)}\n`);
			await rename(`${file}.part`, file);
			results.push(result);
			out(`seed ${seed}, ${way.name}: ${((performance.now() - began) / 1000).toFixed(1)} s\n`);
		}
	return results;
}

async function resultIn(file: string): Promise<RunResult | undefined> {
	try {
		return JSON.parse(await readFile(file, "utf8")) as RunResult;
	} catch (error) {
		if ((error as NodeJS.ErrnoException).code === "ENOENT") return undefined;
		throw error;
	}
}

async function simulated({ households, days }: AllRuns, seed: number, way: Way): Promise<RunResult> {
	const dataFolder = await mkdtemp(join(tmpdir(), "jarwatch-simulation-"));
	const clock = new VirtualClock(SIMULATION_START_MS);
	const phones = new SimulatedPhones();
	const service = await preparedService(settingsFrom({ JARWATCH_DATA_FOLDER: dataFolder, JARWATCH_LOG_LEVEL: "error" }), {
		...{ clock, notifiers: [phones], log: newLog("error"), api: false, randomness: new SeededRandomness(seed) },
	});
	try {
		return await runOne(service.app, clock, phones, { seed, size: sizeFor(households), way, days });
	} finally {
		await service.stop();
		await rm(dataFolder, { recursive: true, force: true });
	}
}
