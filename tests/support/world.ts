import { dirname, join } from "node:path";
import type { DynamicModule, INestApplicationContext, Type } from "@nestjs/common";
import { NestFactory } from "@nestjs/core";
import { pino } from "pino";
import { appModule, type Parts } from "../../src/app.module.js";
import { ThreadSolver } from "../../src/assignment/thread-solver.js";
import { Answers } from "../../src/duties/answers.js";
import { Escalation } from "../../src/duties/escalation.js";
import { ForecastsAnew } from "../../src/duties/forecasts-anew.js";
import { DutyKinds } from "../../src/duties/kinds.js";
import { Replies } from "../../src/duties/replies.js";
import { StrengthReadings } from "../../src/duties/strength-readings.js";
import { Sweep } from "../../src/duties/sweep.js";
import type { MonthlyClimate } from "../../src/science/exposure.js";
import { type Settings, settingsFrom } from "../../src/settings/settings.js";
import { Batches, type NewBatch } from "../../src/stock/batches.js";
import { Calendars } from "../../src/stock/places.js";
import { StockMoves } from "../../src/stock/stock-moves.js";
import { Store } from "../../src/store/store.js";
import { DAY_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { Randomness, SeededRandomness } from "../../src/time/randomness.js";
import { A_JAR } from "./a-jar.js";
import { type DatabaseKind, readyDatabase, TEST_KEY, type TestDatabase } from "./stores.js";

/** Tuesday, 3 March 2026, 08:00 in Nairobi. */
export const START_MS = Date.UTC(2026, 2, 3, 5);

/** What the build has as a script, tests run from its source. */
const SOURCE_THREAD = () => join(__dirname, "source-thread.cjs");

/** Warm all year: 30 °C by day, 22 °C by night. */
export const WARM: MonthlyClimate[] = Array.from({ length: 12 }, () => ({ dayMeanC: 30, nightMeanC: 22, cloudFraction: 0.4 }));

/** The program's own composition on a database of its own, with a clock that the test moves. Its loops aren't started: nothing is sent. */
export async function newWorld(kind: DatabaseKind) {
	return worldOn(await newPlace(kind));
}

/** The program's own composition in a place, begun as the program begins. */
export async function worldOn(place: Place) {
	return worldIn(place, await NestFactory.createApplicationContext(place.module(false), { logger: false, abortOnError: false }));
}

/** Where a world lives, before its services are made. */
export interface Place {
	readonly clock: VirtualClock;
	readonly database: TestDatabase;
	/** @param api whether the interface over HTTP is part of it */
	module(api: boolean, over?: Partial<Settings>, parts?: Partial<Parts>): DynamicModule;
}

export async function newPlace(kind: DatabaseKind): Promise<Place> {
	return placeOn(kind, await readyDatabase(kind), START_MS);
}

/** A place on a database that is there already. */
export function placeOn(kind: DatabaseKind, database: TestDatabase, startMs: number): Place {
	const clock = new VirtualClock(startMs);
	const location = kind === "sqlite" ? { dataFolder: dirname(database.location) } : { databaseUrl: database.location };
	return {
		clock,
		database,
		module: (api, over, parts) =>
			appModule(
				{ ...settingsFrom({ JARWATCH_DATA_KEY: TEST_KEY }), ...location, ...over },
				{
					log: pino({ level: "silent" }),
					clock,
					randomness: new SeededRandomness(1),
					notifiers: [],
					solver: new ThreadSolver(SOURCE_THREAD),
					api,
					...parts,
				},
			),
	};
}

/** The services by their names, and a few ways of looking at what they did. */
export function worldIn({ clock, database }: Place, app: INestApplicationContext) {
	/** A service of the composition, by its class. */
	const the = <T>(service: { readonly prototype: T }): T => app.get(service as Type<T>);
	const store = the(Store);
	const world = {
		the,
		store,
		clock,
		ids: the(Ids),
		randomness: the(Randomness),
		kinds: the(DutyKinds),
		calendars: the(Calendars),
		answers: the(Answers),
		batches: the(Batches),
		sweep: the(Sweep),
		escalation: the(Escalation),
		anew: the(ForecastsAnew),
		replies: the(Replies),
		moves: the(StockMoves),
		readings: the(StrengthReadings),
		async remove() {
			await app.close();
			await database.remove();
		},
		/** Sweeps every hour until the clock has moved on by so many days. */
		async live(days: number, stepMs = DAY_MS / 24) {
			for (const until = clock.nowMs() + days * DAY_MS; clock.nowMs() < until; ) {
				clock.advance(stepMs);
				await world.escalation.climb();
				await world.sweep.openDue();
			}
		},
		tasks: () => store.query<TaskFacts>("SELECT * FROM task ORDER BY opened_at_ms, id"),
		messages: () => store.query<MessageFacts>("SELECT * FROM message ORDER BY created_at_ms, id"),
	};
	return world;
}

export type World = ReturnType<typeof worldIn>;

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
	readonly heldUntilMs: number | null;
	readonly heldBecause: string | null;
	readonly digestId: string | null;
	readonly segments: number | null;
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
		...A_JAR,
		generatorCode: null,
		areaCode: "A1",
		keeperCode: "vol",
		...over,
	});
}
