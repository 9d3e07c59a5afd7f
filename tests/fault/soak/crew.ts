import { existsSync } from "node:fs";
import { join } from "node:path";
import { Client } from "pg";
import { CountingPeer } from "../../support/counting-peer.js";
import { type FaultyLine, faultyLine } from "../../support/faulty-line.js";
import { OwnPostgres } from "../../support/own-postgres.js";
import { freePort, OwnRedis } from "../../support/own-redis.js";
import { RoleProcess } from "../../support/role-process.js";
import { TEST_KEY } from "../../support/stores.js";

export const KEY = "an-invented-key-of-thirty-two-ch";
export const CONCURRENCY = 8;

export type Role = "api" | "scheduler" | "worker";

/** A process of the service, or what has taken its place since it was killed. */
export interface Member {
	readonly name: string;
	readonly role: Role;
	process: RoleProcess;
}

/** So long a statement of a test may wait for a server that is being started. */
const PATIENCE_MS = 120_000;

/**
 * The service in six processes on a PostgreSQL and a Redis of its own, telling a peer that counts. Between it and each of the three
 * runs a line whose faults can be switched. The first of each role is never killed: its memory can be watched.
 */
export class Crew {
	private constructor(
		readonly members: readonly Member[],
		readonly postgres: OwnPostgres,
		readonly redis: OwnRedis,
		readonly peer: CountingPeer,
		readonly lines: Readonly<Record<"PostgreSQL" | "Redis" | "HTTP", FaultyLine>>,
		private readonly environment: Readonly<Record<string, string>>,
	) {}

	/** @returns why there can be none here; nothing where there can */
	static absent(services: { readonly redis: boolean }): string | undefined {
		return OwnPostgres.absent() ?? (services.redis ? undefined : "Redis doesn't answer");
	}

	static async begun(over: Readonly<Record<string, string>> = {}): Promise<Crew> {
		if (!existsSync(join(__dirname, "../../../dist/src/main.js")))
			throw new Error("the program isn't built: npm run build, then again");
		const peer = new CountingPeer(20);
		const peerPort = Number(new URL(await peer.start()).port);
		const [postgresPort, redisPort] = [await freePort(), await freePort()];
		const postgres = new OwnPostgres(postgresPort);
		await postgres.create();
		const redis = new OwnRedis(redisPort, ["--save", "", "--appendonly", "no", "--maxmemory-policy", "noeviction"]);
		await redis.start();
		const lines = {
			PostgreSQL: await faultyLine(postgresPort, { bytesPerSecond: 20_000 }),
			Redis: await faultyLine(redisPort),
			HTTP: await faultyLine(peerPort),
		};
		const environment = {
			JARWATCH_API_KEY: KEY,
			JARWATCH_DATA_KEY: TEST_KEY,
			JARWATCH_DATABASE_URL: `postgres://postgres@127.0.0.1:${lines.PostgreSQL.port}/postgres`,
			JARWATCH_DATABASE_SECONDS: "3",
			JARWATCH_QUEUE: "bullmq",
			JARWATCH_REDIS_URL: `redis://127.0.0.1:${lines.Redis.port}`,
			JARWATCH_HOST: "127.0.0.1",
			JARWATCH_NOTIFIERS: "webhook",
			JARWATCH_WEBHOOK_URL: `http://127.0.0.1:${lines.HTTP.port}/`,
			JARWATCH_PRIVATE_ADDRESSES: "127.0.0.0/8",
			JARWATCH_WEBHOOK_SECRET: `whsec_${Buffer.alloc(24, 7).toString("base64")}`,
			JARWATCH_SEND_CONCURRENCY: String(CONCURRENCY),
			JARWATCH_LEASE_SECONDS: "8",
			JARWATCH_SEND_TIMEOUT_SECONDS: "5",
			JARWATCH_SWEEP_SECONDS: "2",
			...over,
		};
		const members: Member[] = [];
		const crew = new Crew(members, postgres, redis, peer, lines, environment);
		try {
			for (const role of ["api", "scheduler", "worker"] as const)
				for (const number of [1, 2]) members.push({ name: `${role} ${number}`, role, process: await crew.process(role) });
			await Promise.all(members.map(({ process: each }) => each.ready()));
			return crew;
		} catch (error) {
			await crew.end();
			throw error;
		}
	}

	/** Addresses of those that have an interface and stand. */
	get addresses(): string[] {
		return this.members.flatMap(({ process: { address } }) => address ?? []);
	}

	/** Kills one and starts another in its place, which waits for the servers where they are away. @returns the other one */
	async replace(name: string): Promise<RoleProcess> {
		const member = this.members.find((each) => each.name === name);
		if (!member) throw new Error(`there is no ${name}`);
		await member.process.kill();
		member.process = await this.process(member.role);
		// One that ended by itself is found at the end.
		void member.process.ready().catch(() => undefined);
		return member.process;
	}

	/** @returns of each that ended by itself, how, and what it said last */
	endedByItself(): string[] {
		return this.members.flatMap(({ name, process: each }) =>
			each.ending === undefined ? [] : [`${name} ended with ${each.ending}: ${each.words.slice(-3000)}`],
		);
	}

	/** Asks the database itself, past the line; waits for it where it is being started. */
	async rows<T extends object>(statement: string): Promise<T[]> {
		for (const untilMs = performance.now() + PATIENCE_MS; ; ) {
			const client = new Client({ connectionString: this.postgres.url, connectionTimeoutMillis: 5_000 });
			client.on("error", () => undefined);
			try {
				await client.connect();
				return (await client.query<T>(statement)).rows;
			} catch (error) {
				if (performance.now() > untilMs) throw error;
				await new Promise((resolve) => setTimeout(resolve, 200));
			} finally {
				await client.end().catch(() => undefined);
			}
		}
	}

	async number(of: string): Promise<number> {
		const [row] = await this.rows<{ n: string }>(`SELECT count(*) AS n FROM ${of}`);
		return Number(row?.n);
	}

	/** Ends every process in order. @returns how each of them ended; of one that didn't end by the signal also what it said last */
	async stopped(): Promise<string[]> {
		return Promise.all(
			this.members.map(async ({ name, process: each }) => {
				const ending = await each.end();
				return ending === "SIGTERM" ? ending : `${name} ended with ${ending}: ${each.words.slice(-3000)}`;
			}),
		);
	}

	async end(): Promise<void> {
		await Promise.all(this.members.map(({ process: each }) => each.kill()));
		await Promise.all(Object.values(this.lines).map((line) => line.close()));
		await this.redis.remove();
		await this.postgres.remove();
		await this.peer.stop();
	}

	private async process(role: Role): Promise<RoleProcess> {
		return new RoleProcess({ ...this.environment, JARWATCH_ROLES: role, JARWATCH_PORT: String(await freePort()) });
	}
}
