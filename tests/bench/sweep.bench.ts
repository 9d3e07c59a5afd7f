import { migrations } from "../../migrations/index.js";
import { DutyKinds } from "../../src/duties/kinds.js";
import { dutyKinds } from "../../src/duties/list.js";
import { Sweep } from "../../src/duties/sweep.js";
import { entities } from "../../src/entities.js";
import { Calendars } from "../../src/stock/places.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { makeDue, putJars } from "../support/due-jars.js";
import { type DatabaseKind, databasesHere, newDatabase, TEST_KEYS } from "../support/stores.js";
import { type Figure, median } from "./figure.js";
import { plainWriter, rowsSince } from "./plain-rows.js";

const DUE = 1000;
const WARM_UP = 3;
const ROUNDS = 7;
const LARGE = Number(process.env["JARWATCH_TEST_BENCH_JARS"] ?? 1_000_000);
const SMALL = 10_000;

interface Place {
	readonly store: Store;
	readonly sweep: Sweep;
	readonly jars: number;
	readonly location: string;
	close(): Promise<void>;
}

async function place(kind: DatabaseKind, jars: number): Promise<Place> {
	const database = await newDatabase(kind);
	const store = await Store.open({ location: database.location, entities, migrations, keys: TEST_KEYS });
	await putJars(store, jars, () => null, 100);
	// Everybody is off today and tomorrow: what is opened is held for them, and no digest is made in the sweep that is timed.
	const dayAfterTomorrow = ((new Date().getUTCDay() + 1) % 7) + 1;
	await store.work.run((tx) => tx.query("UPDATE person SET working_days = $1", [JSON.stringify([dayAfterTomorrow])]));
	if (kind === "postgres") await store.query("ANALYZE");
	const clock = new SystemClock();
	const randomness = new SystemRandomness();
	const ids = new Ids(clock, randomness);
	const kinds = new DutyKinds(dutyKinds({ ids, calendars: new Calendars() }));
	return {
		store,
		jars,
		location: database.location,
		sweep: new Sweep(store, clock, randomness, ids, kinds, () => undefined),
		close: async () => {
			await store.close();
			await database.remove();
		},
	};
}

/** The first and the last of the jars that become due in a round. */
function dueIn(jars: number, round: number): [number, number] {
	const step = Math.floor(jars / (WARM_UP + ROUNDS));
	return [round * step, round * step + DUE];
}

/** Makes another thousand jars due, spread over all that there are, and times the sweep that opens them. */
async function sweepMs({ store, sweep, jars }: Place, round: number): Promise<number> {
	await makeDue(store, ...dueIn(jars, round), Date.now());
	const began = performance.now();
	const opened = await sweep.openDue();
	const took = performance.now() - began;
	if (opened !== DUE) throw new Error(`${opened} tasks were opened instead of ${DUE}`);
	return took;
}

/** A sweep costs what is due, not what exists; and opening costs little more than the writing itself. */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) {
		const few = await place(kind, SMALL);
		const many = await place(kind, LARGE);
		const before = process.memoryUsage().rss;
		const twin = await place(kind, SMALL);
		const plainly = await plainWriter(kind, twin.location);
		const [onFew, onMany, plain] = [[], [], []] as [number[], number[], number[]];
		for (let round = 0; round < WARM_UP + ROUNDS; round++) {
			const beganAtMs = Date.now();
			onFew.push(await sweepMs(few, round));
			onMany.push(await sweepMs(many, round));
			await makeDue(twin.store, ...dueIn(SMALL, round), Date.now());
			plain.push(await plainly.writeMs(await rowsSince(few.store, beganAtMs)));
		}
		for (const times of [onFew, onMany, plain]) times.splice(0, WARM_UP);
		await plainly.close();
		await twin.close();
		const sweepName = (jars: number) => `sweep of ${DUE} due among ${jars.toLocaleString("en")} on ${kind}`;
		figures.push(
			{
				name: sweepName(LARGE),
				value: median(onMany),
				floor: median(onFew),
				unit: "ms",
				bar: `under 2x the same among ${SMALL}`,
			},
			{
				name: `tasks opened with messages, a second, on ${kind}`,
				value: (DUE / median(onFew)) * 1000,
				floor: (DUE / median(plain)) * 1000,
				unit: "/s",
				bar: "at least 0.5x the same rows by plain prepared statements",
			},
			{
				name: `peak memory of those sweeps on ${kind}`,
				value: Math.max(before, process.memoryUsage().rss) / 1e6,
				floor: 300,
				unit: "MB",
				bar: "under 300 MB",
			},
		);
		await few.close();
		await many.close();
	}
	return figures;
}
