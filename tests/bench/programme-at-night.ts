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
import { type DatabaseKind, newDatabase, TEST_KEYS } from "../support/stores.js";
import { plainNightMs } from "./plain-night.js";
import { makeOneInDue, putProgramme, type Size } from "./programme-of-size.js";

/** 2 %. */
const ONE_IN = 50;

export interface Night {
	/** Of one due item, ms. */
	readonly eachMs: number;
	readonly due: number;
}

/** A programme of some size, and what its nights cost. */
export class ProgrammeAtNight {
	private round = 0;

	private constructor(
		readonly store: Store,
		private readonly size: Size,
		private readonly sweep: Sweep,
		private readonly remove: () => Promise<void>,
	) {}

	static async of(kind: DatabaseKind, size: Size): Promise<ProgrammeAtNight> {
		const database = await newDatabase(kind);
		const at = { location: database.location, entities, migrations };
		const unsealed = await Store.open(at);
		await putProgramme(unsealed, size, { container: CHECK_WATER, batch: RETEST });
		await unsealed.close();
		const store = await Store.open({ ...at, keys: TEST_KEYS });
		const clock = new SystemClock();
		const randomness = new SystemRandomness();
		const ids = new Ids(clock, randomness);
		const kinds = new DutyKinds(dutyKinds({ ids, calendars: new Calendars() }));
		const sweep = new Sweep(store, clock, randomness, ids, kinds, () => undefined);
		return new ProgrammeAtNight(store, size, sweep, () => database.remove());
	}

	/** A night's sweep through the program itself. @param every one subject in so many is due, spread over all that there are */
	async night(every = ONE_IN): Promise<Night> {
		const due = await this.makeDue(every);
		const began = performance.now();
		const opened = await this.sweep.openDue();
		const tookMs = performance.now() - began;
		if (opened !== due) throw new Error(`${opened} tasks were opened of ${due} that were due`);
		return { eachMs: tookMs / due, due };
	}

	/** The same night by plain statements. */
	async plainNight(): Promise<Night> {
		const due = await this.makeDue(ONE_IN);
		return { eachMs: (await plainNightMs(this.store, due)) / due, due };
	}

	async close(): Promise<void> {
		await this.store.close();
		await this.remove();
	}

	private async makeDue(every: number): Promise<number> {
		const round = this.round++;
		const nowMs = Date.now();
		const containers = { kind: CHECK_WATER, letter: "c", count: this.size.households };
		const jars = { kind: RETEST, letter: "j", count: this.size.batches };
		return (
			(await makeOneInDue(this.store, containers, every, round, nowMs)) +
			(await makeOneInDue(this.store, jars, every, round, nowMs))
		);
	}
}
