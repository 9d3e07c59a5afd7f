import { performance } from "node:perf_hooks";
import Sqlite from "better-sqlite3";
import { Client } from "pg";
import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { type Delivery, Notifier } from "../../src/messages/notifier.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { anArea, aPerson, messages } from "../support/builders.js";
import { type DatabaseKind, databasesHere, newDatabase } from "../support/stores.js";

/** One figure beside the limit that it is measured against. */
export interface Figure {
	readonly name: string;
	readonly value: number;
	readonly floor: number;
	/** value over floor. */
	readonly ratio: number;
	readonly unit: string;
	/** The ratio that is promised. */
	readonly bar: number;
}

const MESSAGES = 20_000;
const BATCH = 100;
const LEASE_MS = 60_000;

class NoOpNotifier extends Notifier {
	readonly name = "none";
	async send(): Promise<Delivery> {
		return { kind: "accepted", answer: "taken" };
	}
}

const silent = { debug() {}, info() {}, warn() {}, error() {} } as never;

const reset =
	"UPDATE message SET state = 'waiting', next_try_at_ms = created_at_ms, channel = NULL, answer = NULL, ended_at_ms = NULL, claim = 0";

/** Claims a hundred and completes them by a list of their ids, in the driver's own words and with nothing in between: the least that can be done. */
async function plainLoop(kind: DatabaseKind, location: string): Promise<number> {
	const claim = (p: string[], lock: string) =>
		`UPDATE message SET state = 'claimed', claim = claim + 1, next_try_at_ms = ${p[0]} WHERE id IN
		 (SELECT id FROM message WHERE next_try_at_ms <= ${p[1]} ORDER BY next_try_at_ms LIMIT ${p[2]} ${lock}) RETURNING id`;
	const complete = (p: string) => `UPDATE message SET state = 'sent', next_try_at_ms = NULL, ended_at_ms = ${p} WHERE id`;
	const nowMs = Date.now();
	let done = 0;
	if (kind === "sqlite") {
		const file = new Sqlite(location);
		file.pragma("synchronous = FULL");
		const claiming = file.prepare(claim(["?", "?", "?"], ""));
		const completing = new Map<number, Sqlite.Statement>();
		const beganAt = performance.now();
		for (;;) {
			const ids = claiming.all(nowMs + LEASE_MS, nowMs, BATCH).map((row) => (row as { id: string }).id);
			if (ids.length === 0) break;
			const statement = completing.get(ids.length) ?? file.prepare(`${complete("?")} IN (${ids.map(() => "?").join(",")})`);
			completing.set(ids.length, statement);
			statement.run(nowMs, ...ids);
			done += ids.length;
		}
		const seconds = (performance.now() - beganAt) / 1000;
		file.close();
		return done / seconds;
	}
	const client = new Client({ connectionString: location });
	await client.connect();
	const beganAt = performance.now();
	for (;;) {
		const { rows } = await client.query({
			name: "claim",
			text: claim(["$1", "$2", "$3"], "FOR UPDATE SKIP LOCKED"),
			values: [nowMs + LEASE_MS, nowMs, BATCH],
		});
		if (rows.length === 0) break;
		await client.query({ name: "complete", text: `${complete("$2")} = ANY($1)`, values: [rows.map((row) => row.id), nowMs] });
		done += rows.length;
	}
	const seconds = (performance.now() - beganAt) / 1000;
	await client.end();
	return done / seconds;
}

async function dispatched(store: Store): Promise<number> {
	const clock = new SystemClock();
	const randomness = new SystemRandomness();
	const notifiers = new Map([["none", new NoOpNotifier()]]);
	const dispatcher = new Dispatcher(
		{ store, clock, randomness, ids: new Ids(clock, randomness), notifiers, log: silent },
		{ leaseMs: LEASE_MS, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8, batchSize: BATCH },
	);
	let done = 0;
	const beganAt = performance.now();
	for (let taken = -1; taken !== 0; done += taken) taken = await dispatcher.dispatchReady();
	return done / ((performance.now() - beganAt) / 1000);
}

const median = (values: number[]) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!;

async function onDatabase(kind: DatabaseKind): Promise<Figure> {
	const database = await newDatabase(kind);
	const store = await Store.open({ location: database.location, entities, migrations });
	try {
		const area = await anArea(store);
		const person = await aPerson(store, { areaId: area.id });
		const nowMs = Date.now();
		await messages(store, MESSAGES, { recipientId: person.id, createdAtMs: nowMs, nextTryAtMs: nowMs });
		const ours: number[] = [];
		const plain: number[] = [];
		// One after the other and again, so that both see the same database in the same state; the first round warms up.
		for (let round = 0; round < 6; round++) {
			for (const [rates, run] of [
				[plain, () => plainLoop(kind, database.location)],
				[ours, () => dispatched(store)],
			] as const) {
				await store.work.run((tx) => tx.query(reset));
				await store.writer.query(kind === "postgres" ? "VACUUM ANALYZE message" : "PRAGMA wal_checkpoint(TRUNCATE)");
				rates.push(await run());
			}
		}
		const value = median(ours.slice(1));
		const floor = median(plain.slice(1));
		return {
			name: `dispatch through a notifier that does nothing, ${kind}`,
			value,
			floor,
			ratio: value / floor,
			unit: "messages/s",
			bar: 0.5,
		};
	} finally {
		await store.close();
		await database.remove();
	}
}

export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) figures.push(await onDatabase(kind));
	return figures;
}
