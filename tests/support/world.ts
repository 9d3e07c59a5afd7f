import { Answers } from "../../src/duties/answers.js";
import { Escalation } from "../../src/duties/escalation.js";
import { RetestStoredBleach } from "../../src/duties/kinds/retest.js";
import { DutyKinds } from "../../src/duties/kinds.js";
import { Replies } from "../../src/duties/replies.js";
import { StrengthReadings } from "../../src/duties/strength-readings.js";
import { Sweep } from "../../src/duties/sweep.js";
import type { MonthlyClimate } from "../../src/science/exposure.js";
import { Batches, type NewBatch } from "../../src/stock/batches.js";
import { Calendars } from "../../src/stock/places.js";
import { DAY_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { type DatabaseKind, newStore } from "./stores.js";

/** Tuesday, 3 March 2026, 08:00 in Nairobi. */
export const START_MS = Date.UTC(2026, 2, 3, 5);

/** Warm all year: 30 °C by day, 22 °C by night. */
export const WARM: MonthlyClimate[] = Array.from({ length: 12 }, () => ({ dayMeanC: 30, nightMeanC: 22, cloudFraction: 0.4 }));

/** The services on a database of their own, with a clock that the test moves. Nothing is sent: the outbox is looked at. */
export async function newWorld(kind: DatabaseKind) {
	const store = await newStore(kind);
	const clock = new VirtualClock(START_MS);
	const randomness = new SeededRandomness(1);
	const ids = new Ids(clock, randomness);
	const calendars = new Calendars();
	const kinds = new DutyKinds([new RetestStoredBleach(ids, calendars)]);
	const wake = () => undefined;
	const answers = new Answers(store, clock, ids, kinds, wake);
	const batches = new Batches(store, clock, ids, calendars);
	const world = {
		store,
		clock,
		ids,
		randomness,
		kinds,
		calendars,
		answers,
		batches,
		sweep: new Sweep(store, clock, randomness, ids, kinds, wake),
		escalation: new Escalation(store, clock, ids, kinds, wake),
		replies: new Replies(store, clock, ids, answers, wake),
		readings: new StrengthReadings(store, batches, answers),
		remove: () => store.remove(),
		/** Sweeps every hour until the clock has moved on by so many days. */
		async live(days: number, stepMs = DAY_MS / 24) {
			for (const until = clock.nowMs() + days * DAY_MS; clock.nowMs() < until; ) {
				clock.advance(stepMs);
				await world.sweep.openDue();
				await world.escalation.climb();
			}
		},
		tasks: () => store.query<TaskFacts>("SELECT * FROM task ORDER BY opened_at_ms, id"),
		messages: () => store.query<MessageFacts>("SELECT * FROM message ORDER BY created_at_ms, id"),
	};
	return world;
}

export type World = Awaited<ReturnType<typeof newWorld>>;

export interface TaskFacts {
	readonly id: string;
	readonly code: string;
	readonly state: string;
	readonly kind: string;
	readonly subjectId: string;
	readonly assigneeId: string | null;
	readonly openedAtMs: number;
	readonly dueAtMs: number;
	readonly ladderStep: number;
	readonly brief: string;
}

export interface MessageFacts {
	readonly id: string;
	readonly text: string;
	readonly fill: string;
	readonly recipientId: string;
	readonly state: string;
	readonly taskId: string | null;
	readonly createdAtMs: number;
	readonly nextTryAtMs: number | null;
}

/** One area with a supervisor and a volunteer who works every day and sleeps from 20:00 to 06:00. */
export async function settle(world: World, options: { timeZone?: string; climate?: MonthlyClimate[] } = {}): Promise<void> {
	const { timeZone = "Africa/Nairobi", climate = WARM } = options;
	const person = `INSERT INTO person (id, code, role, name, phone_e164, language, area_id, supervisor_id, working_days, quiet_from, quiet_until, channels, active)
		VALUES ($1, $1, $2, $3, $4, 'en', 'area', $5, '[1,2,3,4,5,6,7]', '20:00', '06:00', '[]', $6)`;
	await world.store.work.run(async (tx) => {
		await tx.query(
			`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
			 VALUES ('area', 'A1', 'Invented area', $1, -1.5, 37, 1200, $2)`,
			[timeZone, JSON.stringify(climate)],
		);
		await tx.query(person, ["sup", "supervisor", "Invented Supervisor", "+447700900001", null, true]);
		await tx.query(person, ["vol", "volunteer", "Invented Volunteer", "+447700900002", "sup", true]);
	});
}

/** A batch made now, 5 L of 5 g/L in an opaque can indoors, kept by the volunteer. */
export function aBatch(world: World, code = "B1", over: Partial<NewBatch> = {}): Promise<{ id: string }> {
	return world.batches.register({
		code,
		madeAtMs: world.clock.nowMs(),
		volumeL: 5,
		madeStrengthGPerL: 5,
		madeStrengthLnSd: 0.15,
		saltGPerL: 30,
		ph: 9,
		phKnowledge: "strip",
		wall: "opaque",
		exposure: "indoors",
		litAreaM2: 0,
		generatorCode: null,
		areaCode: "A1",
		keeperCode: "vol",
		...over,
	});
}
