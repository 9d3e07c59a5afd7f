import { migrations } from "../../migrations/index.js";
import { DutyKinds } from "../../src/duties/kinds.js";
import { dutyKinds } from "../../src/duties/list.js";
import { Sweep } from "../../src/duties/sweep.js";
import { entities } from "../../src/entities.js";
import { Calendars } from "../../src/stock/places.js";
import { valuesOf } from "../../src/store/sql.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { makeDue, putJars } from "../support/due-jars.js";
import { type DatabaseKind, databasesHere, newDatabase } from "../support/stores.js";
import { type Figure, median } from "./figure.js";

const DUE = 1000;
const ROUNDS = 5;
const LARGE = Number(process.env["JARWATCH_TEST_BENCH_JARS"] ?? 1_000_000);
const SMALL = 10_000;

interface Place {
	readonly store: Store;
	readonly sweep: Sweep;
	readonly jars: number;
	close(): Promise<void>;
}

async function place(kind: DatabaseKind, jars: number): Promise<Place> {
	const database = await newDatabase(kind);
	const store = await Store.open({ location: database.location, entities, migrations });
	await putJars(store, jars, () => null, 100);
	if (kind === "postgres") await store.query("ANALYZE");
	const clock = new SystemClock();
	const randomness = new SystemRandomness();
	const ids = new Ids(clock, randomness);
	const kinds = new DutyKinds(dutyKinds({ ids, calendars: new Calendars() }));
	return {
		store,
		jars,
		sweep: new Sweep(store, clock, randomness, ids, kinds, () => undefined),
		close: async () => {
			await store.close();
			await database.remove();
		},
	};
}

/** Makes another thousand jars due, spread over all that there are, and times the sweep that opens them. */
async function sweepMs({ store, sweep, jars }: Place, round: number): Promise<number> {
	const step = Math.floor(jars / ROUNDS / 2);
	await makeDue(store, round * step, round * step + DUE, Date.now());
	const began = performance.now();
	const opened = await sweep.openDue();
	const took = performance.now() - began;
	if (opened !== DUE) throw new Error(`${opened} tasks were opened instead of ${DUE}`);
	return took;
}

/** The same rows written by plain statements in the same pages: task, message, ledger entry, due instant. */
async function plainMs({ store }: Place, round: number): Promise<number> {
	const nowMs = Date.now();
	const began = performance.now();
	for (let page = 0; page < DUE; page += 250)
		await store.work.run(async (tx) => {
			const name = (n: number) => `floor${round}x${page + n}`;
			const each = <T>(of: (n: number) => T) => Array.from({ length: 250 }, (_, n) => of(n));
			const brief = JSON.stringify({
				jar: "J1",
				days: 9,
				chancePercent: 5,
				sampleMl: 1,
				waterL: 2,
				kit: "comparator 0-5",
				scale: "0, 1, 2, 3, 4, 5+",
			});
			const tasks = valuesOf(
				each((n) => [name(n), name(n), "floor", name(n), 1, "area", "vol1", "open", nowMs, nowMs, brief, 0, nowMs]),
			);
			await tx.affected(
				`INSERT INTO task (id, code, kind, subject_id, cycle, area_id, assignee_id, state, due_at_ms, opened_at_ms, brief, ladder_step, next_step_at_ms) VALUES ${tasks.text}`,
				tasks.parameters,
			);
			const messages = valuesOf(
				each((n) => [name(n), name(n), name(n), "vol1", "retest.first", brief, false, "waiting", nowMs, nowMs, 0, 0]),
			);
			await tx.affected(
				`INSERT INTO message (id, idempotency_key, task_id, recipient_id, text, fill, urgent, state, created_at_ms, next_try_at_ms, claim, tries) VALUES ${messages.text}`,
				messages.parameters,
			);
			const entries = valuesOf(each((n) => [name(n), nowMs, "sweep", "task opened", "task", name(n), "area", brief]));
			await tx.affected(
				`INSERT INTO ledger_entry (id, at_ms, actor, action, subject_kind, subject_id, area_id, detail) VALUES ${entries.text}`,
				entries.parameters,
			);
			const due = valuesOf(each((n) => ["floor", name(n), "area", null, 1]));
			await tx.affected(`INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) VALUES ${due.text}`, due.parameters);
		});
	return performance.now() - began;
}

/** A sweep costs what is due, not what exists; and opening costs little more than the writing itself. */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) {
		const few = await place(kind, SMALL);
		const many = await place(kind, LARGE);
		const before = process.memoryUsage().rss;
		const [onFew, onMany, plain] = [[], [], []] as [number[], number[], number[]];
		await sweepMs(few, ROUNDS);
		await sweepMs(many, ROUNDS);
		for (let round = 0; round < ROUNDS; round++) {
			onFew.push(await sweepMs(few, round));
			onMany.push(await sweepMs(many, round));
			plain.push(await plainMs(few, round));
		}
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
				bar: "at least 0.5x the same rows by plain statements",
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
