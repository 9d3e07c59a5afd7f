import { dirname } from "node:path";
import { NestFactory } from "@nestjs/core";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import { pino } from "pino";
import { migrations } from "../../migrations/index.js";
import { Sessions } from "../../src/access/sessions.js";
import { configureApi } from "../../src/api/configure.js";
import { fastifyAdapter } from "../../src/api/edge/adapter.js";
import { appModule } from "../../src/app.module.js";
import { Sweep } from "../../src/duties/sweep.js";
import { entities } from "../../src/entities.js";
import { configurePages } from "../../src/pages/configure.js";
import { settingsFrom } from "../../src/settings/settings.js";
import { RETEST } from "../../src/stock/due-work.js";
import { Store } from "../../src/store/store.js";
import { CHECK_WATER } from "../../src/water/kinds.js";
import { type DatabaseKind, databasesHere, newDatabase, TEST_KEY } from "../support/stores.js";
import type { Figure } from "./figure.js";
import { idOf, putProgramme } from "./programme-of-size.js";

const HOUSEHOLDS = Number(process.env["JARWATCH_TEST_BENCH_HOUSEHOLDS"] ?? 1_000_000);
const SIZE = { households: HOUSEHOLDS, volunteers: HOUSEHOLDS / 20, batches: HOUSEHOLDS / 5 };
/** Volunteers whose page is asked for, spread over all that there are. */
const VISITORS = 100;
/** Of a volunteer's 20 containers so many are to be read, and of her 4 jars so many tested. */
const [CHECKS, RETESTS] = [8, 2];
const WARM_UP = 100;
const REQUESTS = 500;

const visitor = (n: number) => Math.floor((n * SIZE.volunteers) / VISITORS);

async function makeDue(store: Store): Promise<void> {
	const nowMs = Date.now();
	const due = Array.from({ length: VISITORS }, (_, n) => visitor(n)).flatMap((v) => [
		...Array.from({ length: CHECKS }, (_, i) => [CHECK_WATER, idOf("c", v * 20 + i)]),
		...Array.from({ length: RETESTS }, (_, i) => [RETEST, idOf("j", v * 4 + i)]),
	]);
	await store.work.run(async (tx) => {
		for (const [kind, subjectId] of due)
			await tx.affected("UPDATE due SET due_at_ms = $3 WHERE kind = $1 AND subject_id = $2", [kind, subjectId, nowMs - 1000]);
	});
}

async function onDatabase(kind: DatabaseKind): Promise<Figure[]> {
	const database = await newDatabase(kind);
	// What one statement puts on file for a whole programme lies open, and is sealed when the database is opened with keys.
	const first = await Store.open({ location: database.location, entities, migrations });
	await putProgramme(first, SIZE, { container: CHECK_WATER, batch: RETEST });
	await makeDue(first);
	await first.close();
	const where = kind === "sqlite" ? { dataFolder: dirname(database.location) } : { databaseUrl: database.location };
	const log = pino({ level: "silent" });
	const module = appModule(
		{ ...settingsFrom({ JARWATCH_DATA_KEY: TEST_KEY }), ...where, roles: ["api"] },
		{ log, notifiers: [] },
	);
	const app = await NestFactory.create<NestFastifyApplication>(module, fastifyAdapter(), {
		bodyParser: false,
		logger: false,
		abortOnError: false,
	});
	configureApi(app, { apiKey: undefined, inboundSecret: undefined }, log);
	await configurePages(app, log);
	await app.init();
	await app.getHttpAdapter().getInstance().ready();
	const store = app.get(Store);
	for (const sweep = app.get(Sweep); (await sweep.openDue()) > 0; );
	const cookies = await store.work.run(async (tx) => {
		const found: string[] = [];
		for (let n = 0; n < VISITORS; n++) {
			const { secret } = await app.get(Sessions).begin(tx, { personId: idOf("v", visitor(n)) }, undefined);
			found.push(`session=${secret}`);
		}
		return found;
	});
	const times: number[] = [];
	const processorTimes: number[] = [];
	let bytes = 0;
	for (let n = 0; n < WARM_UP + REQUESTS; n++) {
		const began = performance.now();
		const used = process.cpuUsage();
		const answer = await app.inject({
			method: "GET",
			url: "/me",
			headers: { cookie: cookies[(n * 37) % VISITORS] as string, "accept-encoding": "br" },
		});
		times.push(performance.now() - began);
		const { user, system } = process.cpuUsage(used);
		processorTimes.push((user + system) / 1000);
		if (answer.statusCode !== 200) throw new Error(`a page was answered with ${answer.statusCode}`);
		bytes = answer.rawPayload.length;
	}
	await app.close();
	await database.remove();
	const at95 = (all: number[]) => all.slice(WARM_UP).sort((a, b) => a - b)[Math.floor(REQUESTS * 0.95)] as number;
	const among = `among ${HOUSEHOLDS.toLocaleString("en")} households on ${kind}`;
	return [
		{
			name: `today's page of ${CHECKS + RETESTS} tasks ${among}, at 95 %`,
			value: at95(times),
			floor: 20,
			unit: "ms",
			bar: "under 20 ms",
		},
		{
			name: `the same, processor time alone, ${kind}`,
			value: at95(processorTimes),
			floor: 20,
			unit: "ms",
			bar: "under 20 ms",
		},
		{ name: `the same, on the wire, ${kind}`, value: bytes / 1000, floor: 10, unit: "kB", bar: "under 10 kB" },
	];
}

/** Server time of the page that a volunteer opens most, with everything that stands before it: session, queries, markup, brotli. */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) figures.push(...(await onDatabase(kind)));
	return figures;
}
