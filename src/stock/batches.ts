import { setImmediate as nextTurn } from "node:timers/promises";
import { InputError } from "../errors/errors.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import { underChanceOf } from "../science/under-chance.js";
import type { Store } from "../store/store.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { type Forecast, figuresAt, forecastOf, jarBelief, type StrengthFigures } from "./forecast.js";
import { attempted, type JarRow, jarFacts, jarRows, testsOfJar, type Unfit } from "./jar-facts.js";
import type { Calendars } from "./places.js";
import { type NewBatch, registerBatch } from "./register.js";
import type { BatchRow, StrengthTestRow } from "./rows.js";
import { type KeptTest, keepStrengthTest, type NewStrengthTest } from "./strength-tests.js";

export type { NewBatch } from "./register.js";

/** A jar, and what is believed of it. */
export interface BatchNow {
	readonly row: JarRow;
	/** As of now, not as of the last fact. */
	readonly forecast: Forecast;
}

/** Everything that is known of one jar now. */
export interface BatchDetail extends BatchNow {
	readonly tests: readonly StrengthTestRow[];
	/** The expected strength day by day, from the making on. */
	readonly curve: readonly StrengthFigures[];
}

/** Days that a curve looks ahead of now at the least. */
const AHEAD_DAYS = 14;
/** Points of a curve that are reckoned in one go: some milliseconds of work. */
const POINTS_AT_ONCE = 4;

/** Jars: put on file, tested, looked at, discarded. */
export class Batches {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		readonly ids: Ids,
		readonly calendars: Calendars,
	) {}

	/** Puts a batch on file and forecasts it. @throws InputError `unknown-area`, `unknown-subject`, `time-in-future`, `conflict` */
	register(batch: NewBatch): Promise<BatchRow> {
		return this.store.work.run(async (tx) => {
			const moment = { nowMs: this.clock.nowMs(), policy: await currentPolicy(tx) };
			return registerBatch(tx, this, batch, moment, "office");
		});
	}

	/** Keeps a test that nobody had asked for, and forecasts the jar anew. */
	recordTest(code: string, test: Omit<NewStrengthTest, "batchId" | "recordedAtMs">): Promise<KeptTest> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const batchId = await idOf(tx, code);
			const keeping = { ids: this.ids, calendars: this.calendars, policy: await currentPolicy(tx) };
			const kept = await keepStrengthTest(tx, { ...test, batchId, recordedAtMs: nowMs }, keeping);
			const [discarded] = await tx.query("SELECT id FROM batch WHERE id = $1 AND state IN ('discarded', 'empty')", [batchId]);
			if (discarded)
				throw new InputError("conflict", `Batch ${code} is empty or has been discarded; its tests no longer count.`, {
					status: 409,
				});
			return kept;
		});
	}

	/** Without its tests and its curve, which costs much more than the rest. @throws InputError `unknown-subject` */
	async now(code: string): Promise<BatchNow> {
		const { row, forecast } = await this.judged(code);
		return { row, forecast };
	}

	/** @throws InputError `unknown-subject` */
	async detail(code: string): Promise<BatchDetail> {
		const { row, facts, forecast, policy, nowMs } = await this.judged(code);
		const tests = await testsOfJar(this.store, row.id);
		return {
			row,
			tests: tests.map((test) => ({ ...test, flags: JSON.parse(String(test.flags as unknown)) as string[] })),
			forecast,
			curve: await curveOf(facts, forecast, policy, nowMs),
		};
	}

	private async judged(code: string) {
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(this.store);
		const row = only(await jarRows(this.store, [await idOf(this.store, code)]));
		const unfit: Unfit = new Map();
		const facts = (await jarFacts(this.store, this.calendars, [row], unfit)).get(row.id);
		const forecast = facts && attempted(row.id, unfit, () => forecastOf(facts, policy, nowMs));
		if (facts && forecast) return { row, facts, policy, nowMs, forecast };
		const why = unfit.get(row.id) ?? "nothing is known of it";
		throw new InputError("conflict", `The batch can't be forecast by what is on file of it: ${why}. Put that right first.`, {
			status: 409,
		});
	}
}

async function curveOf(
	facts: Parameters<typeof forecastOf>[0],
	forecast: Forecast,
	policy: Policy,
	nowMs: number,
): Promise<StrengthFigures[]> {
	const under = underChanceOf(jarBelief(facts));
	const untilMs = Math.max(nowMs + AHEAD_DAYS * DAY_MS, (forecast.retestAtMs ?? 0) + 2 * DAY_MS);
	const days = Math.min(120, Math.ceil((untilMs - facts.madeAtMs) / DAY_MS));
	const stepMs = (untilMs - facts.madeAtMs) / days;
	const curve: StrengthFigures[] = [];
	for (let day = 0; day <= days; day++) {
		// All points at once would keep everybody else waiting for tenths of a second.
		if (day % POINTS_AT_ONCE === 0) await nextTurn();
		curve.push(figuresAt(under, facts, policy, facts.madeAtMs + day * stepMs));
	}
	return curve;
}

async function idOf(from: Pick<Transaction, "query">, code: string): Promise<string> {
	const [row] = await from.query<{ id: string }>("SELECT id FROM batch WHERE code = $1", [code]);
	if (!row) throw new InputError("unknown-subject", "There is no batch of that code.", { status: 404 });
	return row.id;
}
