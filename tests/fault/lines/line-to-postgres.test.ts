import { existsSync } from "node:fs";
import { join } from "node:path";
import { Client } from "pg";
import { migrations } from "../../../migrations/index.js";
import { entities } from "../../../src/entities.js";
import { TransientError } from "../../../src/errors/errors.js";
import { Store } from "../../../src/store/store.js";
import { CountingPeer } from "../../support/counting-peer.js";
import { FAULTS, type Fault, type FaultyLine, faultyLine } from "../../support/faulty-line.js";
import { areaFile, dueJarsFile, volunteersFile } from "../../support/jars-by-import.js";
import { freePort } from "../../support/own-redis.js";
import { RoleProcess } from "../../support/role-process.js";
import { newDatabase, readyDatabase, servicesHere, TEST_KEY, TEST_KEYS, type TestDatabase } from "../../support/stores.js";

const KEY = "an-invented-key-of-thirty-two-ch";
/** How long the database may be silent. */
const PATIENCE_SECONDS = 2;
/** Whoever waits longer has been kept hanging, on a machine ten times slower too. */
const HANGS_AFTER_MS = 60_000;
/** With these nothing is answered that needs the database. */
const NOTHING_COMES: readonly Fault[] = ["half-open", "answers lost", "cut", "refuse"];

const here = servicesHere().postgres;
const title = "over a line to PostgreSQL that fails";
if (!here) it.skip(`${title}: left out, because no PostgreSQL answers at the test address`, () => undefined);

/** The address of a database by way of a line. */
function over(line: FaultyLine, location: string): string {
	const url = new URL(location);
	url.hostname = "127.0.0.1";
	url.port = String(line.port);
	return url.href;
}

function lineTo(location: string): Promise<FaultyLine> {
	const { hostname, port } = new URL(location);
	return faultyLine(Number(port || 5432), { host: hostname, delayMs: 20, bytesPerSecond: 2_000 });
}

async function soon(isSo: () => Promise<boolean>, otherwise: string): Promise<void> {
	const untilMs = performance.now() + HANGS_AFTER_MS;
	while (!(await isSo())) {
		if (performance.now() > untilMs) throw new Error(otherwise);
		await new Promise((resolve) => setTimeout(resolve, 50));
	}
}

(here ? describe : describe.skip)(title, () => {
	let database: TestDatabase;
	let line: FaultyLine;
	let peer: CountingPeer;
	let service: RoleProcess;
	let client: Client;
	let jars = 0;

	beforeAll(async () => {
		if (!existsSync(join(__dirname, "../../../dist/src/main.js")))
			throw new Error("the program isn't built: npm run build, then again");
		database = await newDatabase("postgres");
		line = await lineTo(database.location);
		peer = new CountingPeer();
		service = new RoleProcess({
			JARWATCH_API_KEY: KEY,
			JARWATCH_DATA_KEY: TEST_KEY,
			JARWATCH_DATABASE_URL: over(line, database.location),
			JARWATCH_DATABASE_SECONDS: String(PATIENCE_SECONDS),
			JARWATCH_PORT: String(await freePort()),
			JARWATCH_NOTIFIERS: "webhook",
			JARWATCH_WEBHOOK_URL: await peer.start(),
			JARWATCH_PRIVATE_ADDRESSES: "127.0.0.0/8",
			JARWATCH_WEBHOOK_SECRET: `whsec_${Buffer.alloc(24, 7).toString("base64")}`,
			JARWATCH_SWEEP_SECONDS: "0.3",
			JARWATCH_DISPATCH_SECONDS: "0.2",
			JARWATCH_LEASE_SECONDS: "6",
			JARWATCH_SEND_TIMEOUT_SECONDS: "5",
		});
		await service.ready();
		client = new Client({ connectionString: database.location });
		await client.connect();
		expect(await service.ask("POST", "/imports/areas", areaFile())).toMatchObject({ status: 200 });
	}, 120_000);
	afterAll(async () => {
		await service.kill();
		await client.end();
		await line.close();
		await peer.stop();
		await database.remove();
	});

	const count = async (of: string) => Number((await client.query<{ n: string }>(`SELECT count(*) AS n FROM ${of}`)).rows[0]?.n);
	const given = async () => {
		const numbers = [jars++, jars++, jars++];
		// Who is told to try again later does: connections that died over the fault are found one after the other.
		const taken = async (kind: string, file: string) => (await service.ask("POST", `/imports/${kind}`, file)).status === 200;
		await soon(() => taken("people", volunteersFile(numbers)), "people weren't taken");
		await soon(() => taken("batches", dueJarsFile(numbers)), "jars weren't taken");
	};

	it.each(FAULTS)(
		"answers every request, by 503 where it can't do otherwise, comes back by itself, and tells of every jar once: %s",
		async (fault) => {
			await given();
			await line.be(fault);
			const asked = await Promise.all([
				service.ask("GET", "/tasks"),
				service.ask("GET", "/batches"),
				service.ask("GET", "/people"),
				service.ask("GET", "/households"),
				service.ask("POST", "/imports/people", volunteersFile([90_000 + jars])),
				service.ask("GET", "/health/ready"),
			]);
			expect((await service.ask("GET", "/health/live")).status).toBe(200);
			const statuses = asked.map(({ status }) => status);
			expect(statuses.filter((status) => ![200, 503].includes(status))).toEqual([]);
			if (NOTHING_COMES.includes(fault)) {
				expect(statuses).toEqual(Array(asked.length).fill(503));
				expect(asked.slice(0, 4).map(({ body }) => body.code)).toEqual(Array(4).fill("database-busy"));
				expect(asked[5]?.body.code).toBe("not-ready");
			} else if (fault === "delay") expect(statuses.slice(0, 3)).toEqual([200, 200, 200]);

			await line.be("none");
			await soon(async () => (await service.ask("GET", "/health/ready")).status === 200, "it isn't ready again");
			await given();
			await soon(
				async () => (await count("task")) === jars && (await count("message WHERE state <> 'sent'")) === 0,
				"not every jar was told of",
			);
			const { rows } = await client.query<{ id: string; claim: number }>("SELECT id, claim FROM message");
			const counts = peer.counts();
			expect(rows.map(({ id }) => id).sort()).toEqual([...counts.keys()].sort());
			// The line to the peer is whole: what was sent is recorded as soon as the database is back.
			expect(rows.filter(({ id, claim }) => (counts.get(id) ?? 0) > claim)).toEqual([]);
			expect(await count("(SELECT DISTINCT subject_id FROM task) AS t")).toBe(jars);
		},
		HANGS_AFTER_MS * 4,
	);
});

/** The end of what a server says when it has made a connection: BackendKeyData, and ReadyForQuery. Source: PostgreSQL 15 manual, 55.7 */
const isMade = (carried: Buffer) => carried.at(-19) === 0x4b && carried.at(-15) === 12 && carried.at(-6) === 0x5a;
/** ErrorResponse of a server that shuts down. Source: PostgreSQL 15 manual, 55.7, 55.8 and appendix A */
const FIELDS = "SFATAL\0VFATAL\0C57P01\0Mterminating connection due to administrator command\0\0";
const FATAL = Buffer.concat([Buffer.from([0x45, 0, 0, 0, 4 + FIELDS.length]), Buffer.from(FIELDS)]);

(here ? it : it.skip)(
	"a server that ends a connection in the breath in which it makes it fails what was asked, and nothing else; the next connection is good",
	async () => {
		const database = await readyDatabase("postgres");
		const line = await lineTo(database.location);
		const store = await Store.open({ location: over(line, database.location), entities, migrations, keys: TEST_KEYS });
		try {
			const five = () => Promise.allSettled(Array.from({ length: 5 }, () => store.query("SELECT 1 AS one FROM pg_sleep(0.05)")));
			// As many at once ask for connections that aren't there yet: one of them is ended as it becomes usable.
			line.addOnce(isMade, FATAL);
			const asked = await five();
			const failed = asked.flatMap((one) => (one.status === "rejected" ? [one.reason] : []));
			expect(failed).toHaveLength(1);
			expect(failed[0]).toBeInstanceOf(TransientError);
			expect((await five()).map(({ status }) => status)).toEqual(Array(5).fill("fulfilled"));
		} finally {
			await store.close();
			await line.close();
			await database.remove();
		}
	},
	HANGS_AFTER_MS,
);

(here ? describe : describe.skip)("a unit of work whose line fails while it is being kept", () => {
	it.each([
		["answers lost", 1],
		["half-open", 0],
	] as const)(
		"says that nobody knows whether it was kept, and repeats nothing: %s, kept %d times",
		async (fault, kept) => {
			const database = await readyDatabase("postgres");
			const line = await lineTo(database.location);
			const open = (location: string) =>
				Store.open({ location, entities, migrations, keys: TEST_KEYS, patienceMs: PATIENCE_SECONDS * 1000 });
			const store = await open(over(line, database.location));
			try {
				let times = 0;
				const work = store.work.run(async (tx) => {
					times++;
					await tx.query("INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('p', 'Invented', '{}', 0)");
					await line.be(fault);
				});
				const error = await work.catch((thrown: unknown) => thrown);
				expect(error).toBeInstanceOf(TransientError);
				expect((error as TransientError).message).toContain("may have kept it or not");
				expect(times).toBe(1);
				const beside = await open(database.location);
				expect(await beside.query("SELECT count(*) AS n FROM programme")).toEqual([{ n: kept }]);
				await beside.close();
				await line.be("none");
				const seen = () => store.query("SELECT count(*) AS n FROM programme").catch(() => undefined);
				await soon(async () => (await seen()) !== undefined, "it doesn't come back");
				expect(await seen()).toEqual([{ n: kept }]);
			} finally {
				await store.close();
				await line.close();
				await database.remove();
			}
		},
		HANGS_AFTER_MS,
	);

	it(
		"waits for a statement that the server is at work on, however long it takes beside the patience, and frees what a lost one had locked",
		async () => {
			const database = await readyDatabase("postgres");
			const line = await lineTo(database.location);
			const store = await Store.open({
				location: over(line, database.location),
				entities,
				migrations,
				keys: TEST_KEYS,
				patienceMs: 1_500,
			});
			try {
				// Twice as long as silence is borne.
				expect(await store.query("SELECT 1 AS one FROM pg_sleep(3)")).toEqual([{ one: 1 }]);
				const put = "INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('p', 'Invented', '{}', 0)";
				await expect(
					store.work.run(async (tx) => {
						await tx.query(put);
						// This connection is dead from here on, and new ones carry.
						await line.be("half-open");
						await line.be("none");
						await tx.query("SELECT 1 AS one");
					}),
				).rejects.toThrow(TransientError);
				const again = () =>
					store.work
						.run((tx) => tx.query(put))
						.then(
							() => true,
							() => false,
						);
				await soon(again, "what it had locked stays locked");
				expect(await store.query("SELECT count(*) AS n FROM programme")).toEqual([{ n: 1 }]);
			} finally {
				await store.close();
				await line.close();
				await database.remove();
			}
		},
		HANGS_AFTER_MS,
	);
});
