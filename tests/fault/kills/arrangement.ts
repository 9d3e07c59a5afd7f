import BetterSqlite3 from "better-sqlite3";
import { Client } from "pg";
import { camelCase } from "../../../src/store/columns.js";
import { freePort, OwnRedis } from "../../support/own-redis.js";
import { type DatabaseKind, readyDatabase } from "../../support/stores.js";
import type { Look } from "../invariants.js";

/** In which the program works while it is killed. */
export interface Arrangement {
	readonly name: string;
	readonly database: DatabaseKind;
	/** Processes that work at once, each doing everything. */
	readonly copies: number;
	readonly redis: boolean;
}

export const ARRANGEMENTS: readonly Arrangement[] = [
	{ name: "one process on SQLite", database: "sqlite", copies: 1, redis: false },
	{ name: "one process on PostgreSQL", database: "postgres", copies: 1, redis: false },
	{ name: "three processes on PostgreSQL and Redis", database: "postgres", copies: 3, redis: true },
];

/** The servers and files of an arrangement. */
export interface Ground {
	readonly location: string;
	readonly redisUrl?: string;
	/** Reads what is on record, past every process and every key. */
	readonly look: Look;
	remove(): Promise<void>;
}

export async function groundOf({ database: kind, redis: withRedis }: Arrangement): Promise<Ground> {
	const database = await readyDatabase(kind);
	const redis = withRedis ? new OwnRedis(await freePort(), REDIS) : undefined;
	await redis?.start();
	const client = kind === "postgres" ? new Client({ connectionString: database.location }) : undefined;
	await client?.connect();
	return {
		location: database.location,
		...(redis && { redisUrl: redis.url }),
		look: client ? rowsOf(client) : (statement) => rowsOfFile(database.location, statement),
		async remove() {
			await client?.end();
			await database.remove();
			await redis?.remove();
		},
	};
}

const REDIS = ["--save", "", "--appendonly", "no", "--maxmemory-policy", "noeviction"];

function rowsOf(client: Client): Look {
	return async <T extends object>(statement: string) => named<T>((await client.query(statement)).rows);
}

/** Opened for each look, so that mostly the processes themselves find what a killed one has left beside the file. */
async function rowsOfFile<T extends object>(path: string, statement: string): Promise<T[]> {
	const file = new BetterSqlite3(path, { readonly: true, fileMustExist: true });
	try {
		return named<T>(file.prepare(statement).all() as Record<string, unknown>[]);
	} finally {
		file.close();
	}
}

const named = <T extends object>(rows: readonly Record<string, unknown>[]): T[] =>
	rows.map((row) => Object.fromEntries(Object.entries(row).map(([name, value]) => [camelCase(name), value])) as T);
