import { existsSync } from "node:fs";
import { join } from "node:path";
import { Client } from "pg";
import { SeededRandomness } from "../../src/time/randomness.js";
import { CountingPeer } from "../support/counting-peer.js";
import { areaFile, dueJarsFile, volunteersFile } from "../support/jars-by-import.js";
import { freePort, OwnRedis } from "../support/own-redis.js";
import { RoleProcess } from "../support/role-process.js";
import { newDatabase, servicesHere, TEST_KEY } from "../support/stores.js";

const KEY = "an-invented-key-of-thirty-two-ch";
/** A minute and more by JARWATCH_TEST_KILL_SECONDS=90. */
const SECONDS = Number(process.env["JARWATCH_TEST_KILL_SECONDS"] ?? 20);
const JARS_A_FILE = 30;
const CONCURRENCY = 4;

const title = `three workers and two schedulers on PostgreSQL and Redis, killed at random for ${SECONDS} s while Redis is killed and comes back empty, tell each reminder, record none as sent that the peer hasn't, and repeat one only under its key where an answer was lost`;

if (servicesHere().redis && servicesHere().postgres) it(title, run, SECONDS * 1000 + 500_000);
else it.skip(`${title}: left out, because Redis or PostgreSQL doesn't answer`, () => undefined);

async function run(): Promise<void> {
	if (!existsSync(join(__dirname, "../../dist/src/main.js")))
		throw new Error("the program isn't built: npm run build, then again");
	const chance = new SeededRandomness(11);
	const peer = new CountingPeer(20);
	const redis = new OwnRedis(await freePort(), ["--save", "", "--appendonly", "no", "--maxmemory-policy", "noeviction"]);
	await redis.start();
	const database = await newDatabase("postgres");
	const client = new Client({ connectionString: database.location });
	await client.connect();
	const environment = {
		JARWATCH_API_KEY: KEY,
		JARWATCH_DATA_KEY: TEST_KEY,
		JARWATCH_DATABASE_URL: database.location,
		JARWATCH_QUEUE: "bullmq",
		JARWATCH_REDIS_URL: redis.url,
		JARWATCH_HOST: "127.0.0.1",
		JARWATCH_NOTIFIERS: "webhook",
		JARWATCH_WEBHOOK_URL: await peer.start(),
		JARWATCH_PRIVATE_ADDRESSES: "127.0.0.0/8",
		JARWATCH_WEBHOOK_SECRET: `whsec_${Buffer.alloc(24, 7).toString("base64")}`,
		JARWATCH_SEND_CONCURRENCY: String(CONCURRENCY),
		JARWATCH_LEASE_SECONDS: "10",
		JARWATCH_SEND_TIMEOUT_SECONDS: "5",
		JARWATCH_SWEEP_SECONDS: "1",
	};
	const started = async (role: "api" | "scheduler" | "worker") =>
		new RoleProcess({ ...environment, JARWATCH_ROLES: role, JARWATCH_PORT: String(await freePort()) });
	const sentIds = async () =>
		(await client.query<{ id: string }>("SELECT id FROM message WHERE state = 'sent'")).rows.map(({ id }) => id);
	const number = async (of: string) => Number((await client.query<{ n: string }>(`SELECT count(*) AS n FROM ${of}`)).rows[0]?.n);
	const api = await started("api");
	const crew: { role: "scheduler" | "worker"; process: RoleProcess }[] = [];
	try {
		await api.ready();
		for (const role of ["worker", "worker", "worker", "scheduler", "scheduler"] as const)
			crew.push({ role, process: await started(role) });
		await Promise.all(crew.map(({ process: each }) => each.ready()));
		const given = async (kind: string, file: string) =>
			expect(await api.ask("POST", `/imports/${kind}`, file)).toMatchObject({ status: 200, body: { state: "imported" } });
		await given("areas", areaFile());

		let jars = 0;
		let kills = 0;
		let files = 0;
		const give = async () => {
			const numbers = Array.from({ length: JARS_A_FILE }, (_, i) => jars + i);
			await given("people", volunteersFile(numbers));
			await given("batches", dueJarsFile(numbers));
			jars += JARS_A_FILE;
			files++;
		};
		await give();
		const untilMs = performance.now() + SECONDS * 1000;
		let isRedisBack = false;
		while (performance.now() < untilMs) {
			await give();
			await new Promise((resolve) => setTimeout(resolve, 300 + chance.below(1500)));
			const one = crew[chance.below(crew.length)];
			if (!one) continue;
			await one.process.kill();
			kills++;
			// What is recorded as sent, the peer has: at any moment. The record is read first, for what comes meanwhile is on neither.
			const sent = await sentIds();
			const has = new Set(peer.keys);
			expect(sent.filter((id) => !has.has(id))).toEqual([]);
			if (!isRedisBack && performance.now() > untilMs - SECONDS * 500) {
				await redis.kill();
				await redis.start();
				isRedisBack = true;
			}
			one.process = await started(one.role);
		}
		expect(isRedisBack).toBe(true);
		await Promise.all(crew.map(({ process: each }) => each.ready()));
		const endMs = performance.now() + 300_000;
		const isSettled = async () => (await number("task")) === jars && (await number("message WHERE state <> 'sent'")) === 0;
		while (!(await isSettled()) && performance.now() < endMs) await new Promise((resolve) => setTimeout(resolve, 200));

		expect([await number("task"), await number("(SELECT DISTINCT subject_id FROM task) AS t")]).toEqual([jars, jars]);
		const { rows } = await client.query<{ id: string; state: string; claim: number; endedAtMs: string }>(
			`SELECT id, state, claim, ended_at_ms AS "endedAtMs" FROM message`,
		);
		expect(rows.map(({ state }) => state)).toEqual(Array(jars).fill("sent"));
		const counts = peer.counts();
		expect([...counts.keys()].sort()).toEqual(rows.map(({ id }) => id).sort());
		// Each sending had a claim of its own: a second one came only after the first one's answer had not been recorded.
		expect(rows.filter(({ id, claim }) => (counts.get(id) ?? 0) > claim)).toEqual([]);
		const endedAtMs = new Map(rows.map((row) => [row.id, Number(row.endedAtMs)]));
		expect(peer.keys.filter((id, i) => (peer.cameAtMs[i] ?? 0) > (endedAtMs.get(id) ?? 0))).toEqual([]);
		const extra = peer.keys.length - counts.size;
		expect(extra).toBeLessThanOrEqual(kills * CONCURRENCY);
		console.log(`${kills} kills, Redis emptied once, ${jars} reminders in ${files} files: ${extra} sent twice`);
		expect(await Promise.all([api, ...crew.map(({ process: each }) => each)].map((each) => each.end()))).toEqual(
			Array(6).fill("SIGTERM"),
		);
	} finally {
		await Promise.all([api, ...crew.map(({ process: each }) => each)].map((each) => each.kill()));
		await client.end();
		await database.remove();
		await redis.remove();
		await peer.stop();
	}
}
