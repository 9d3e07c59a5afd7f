import { migrations } from "../../migrations/index.js";
import { DutyKinds } from "../../src/duties/kinds.js";
import { dutyKinds } from "../../src/duties/list.js";
import { Sweep } from "../../src/duties/sweep.js";
import { entities } from "../../src/entities.js";
import { RETEST } from "../../src/stock/due-work.js";

import { Calendars } from "../../src/stock/places.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { CHECK_WATER } from "../../src/water/kinds.js";
import { type DatabaseKind, databasesHere, newDatabase } from "../support/stores.js";
import { type Figure, median } from "./figure.js";
import { plainNightMs } from "./plain-night.js";
import { makeOneInDue, putProgramme, type Size } from "./programme-of-size.js";

const HOUSEHOLDS = Number(process.env["JARWATCH_TEST_BENCH_HOUSEHOLDS"] ?? 1_000_000);
const LARGE: Size = { households: HOUSEHOLDS, volunteers: HOUSEHOLDS / 20, batches: HOUSEHOLDS / 5 };
const SMALL: Size = { households: 10_000, volunteers: 500, batches: 2000 };
/** 2 %. */
const ONE_IN = 50;

interface Night {
	/** Of one due item, ms. */
	readonly eachMs: number;
	readonly due: number;
}

class Programme {
	private round = 0;

	private constructor(
		readonly store: Store,
		private readonly size: Size,
		private readonly sweep: Sweep,
		private readonly remove: () => Promise<void>,
	) {}

	static async of(kind: DatabaseKind, size: Size): Promise<Programme> {
		const database = await newDatabase(kind);
		const store = await Store.open({ location: database.location, entities, migrations });
		await putProgramme(store, size, { container: CHECK_WATER, batch: RETEST });
		const clock = new SystemClock();
		const randomness = new SystemRandomness();
		const ids = new Ids(clock, randomness);
		const kinds = new DutyKinds(dutyKinds({ ids, calendars: new Calendars() }));
		const sweep = new Sweep(store, clock, randomness, ids, kinds, () => undefined);
		return new Programme(store, size, sweep, () => database.remove());
	}

	/** A night's sweep through the program itself. */
	async night(): Promise<Night> {
		const due = await this.makeDue();
		const began = performance.now();
		const opened = await this.sweep.openDue();
		const tookMs = performance.now() - began;
		if (opened !== due) throw new Error(`${opened} tasks were opened of ${due} that were due`);
		return { eachMs: tookMs / due, due };
	}

	/** The same night by plain statements. */
	async plainNight(): Promise<Night> {
		const due = await this.makeDue();
		return { eachMs: (await plainNightMs(this.store, due)) / due, due };
	}

	async close(): Promise<void> {
		await this.store.close();
		await this.remove();
	}

	private async makeDue(): Promise<number> {
		const round = this.round++;
		const nowMs = Date.now();
		const containers = { kind: CHECK_WATER, letter: "c", count: this.size.households };
		const jars = { kind: RETEST, letter: "j", count: this.size.batches };
		return (
			(await makeOneInDue(this.store, containers, ONE_IN, round, nowMs)) +
			(await makeOneInDue(this.store, jars, ONE_IN, round, nowMs))
		);
	}
}

const NIGHTS = 3;

/** What a nightly sweep costs beside the bare work, and whether it costs more where more is on file. */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) {
		const small = await Programme.of(kind, SMALL);
		const large = await Programme.of(kind, LARGE);
		const [onSmall, onLarge, plain] = [[], [], []] as [number[], number[], number[]];
		await small.night();
		for (let night = 0; night < NIGHTS; night++) {
			// As many items on the small one as take the clock's grain away.
			for (let more = 0; more < 3; more++) onSmall.push((await small.night()).eachMs);
			onLarge.push((await large.night()).eachMs);
			plain.push((await large.plainNight()).eachMs);
		}
		const among = `among ${LARGE.households.toLocaleString("en")} households on ${kind}`;
		figures.push(
			{
				name: `a due item of a night ${among}`,
				value: median(onLarge),
				floor: median(plain),
				unit: "ms",
				bar: "within 5x the bare work",
			},
			{
				name: `a due item of a night ${among}`,
				value: median(onLarge),
				floor: median(onSmall),
				unit: "ms",
				bar: `within 1.2x the same among ${SMALL.households.toLocaleString("en")}`,
			},
			{
				name: `memory after those nights on ${kind}`,
				value: process.memoryUsage().rss / 1e6,
				floor: 300,
				unit: "MB",
				bar: "under 300 MB",
			},
		);
		await small.close();
		await large.close();
	}
	return figures;
}
