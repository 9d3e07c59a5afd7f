import { Client } from "pg";

/**
 * Databases of PostgreSQL that tests have given back as they were made. A new one is some six hundred files; to empty one takes a third of
 * the time. A worker keeps its own, and the end of the run removes them (see no-models.cjs).
 */
export interface Kept {
	/** Their addresses. */
	readonly free: string[];
	/** Of the schema that the migrations make. */
	asMade?: string;
}

const KEPT = Symbol.for("jarwatch: databases that tests have given back");
const ofThisWorker = globalThis as unknown as { [KEPT]?: Kept };

export function keptDatabases(): Kept {
	ofThisWorker[KEPT] ??= { free: [] };
	return ofThisWorker[KEPT];
}

/**
 * All that a test may have changed but the program's rows: migrations, tables and whether they were analysed, columns, constraints, triggers,
 * functions, schemas and settings. A database that differs in any of it isn't used again.
 */
const SCHEMA = `
	WITH ours AS (SELECT * FROM pg_class WHERE relnamespace = 'public'::regnamespace)
	SELECT md5(string_agg(fact, chr(10) ORDER BY fact COLLATE "C")) AS facts FROM (
		SELECT concat_ws(' ', 'class', relname, relkind, reltuples, reloptions, relpersistence) AS fact FROM ours
		UNION ALL SELECT concat_ws(' ', 'column', attrelid, attname, atttypid, attnotnull, attisdropped)
			FROM pg_attribute WHERE attrelid IN (SELECT oid FROM ours) AND attnum > 0
		UNION ALL SELECT concat_ws(' ', 'index', indexrelid, indkey, indisvalid) FROM pg_index WHERE indrelid IN (SELECT oid FROM ours)
		UNION ALL SELECT concat_ws(' ', 'constraint', oid, conname, convalidated, condeferred) FROM pg_constraint WHERE conrelid IN (SELECT oid FROM ours)
		UNION ALL SELECT concat_ws(' ', 'trigger', tgrelid, tgname, tgenabled) FROM pg_trigger WHERE tgrelid IN (SELECT oid FROM ours)
		UNION ALL SELECT concat_ws(' ', 'function', proname, md5(prosrc)) FROM pg_proc WHERE pronamespace = 'public'::regnamespace
		UNION ALL SELECT concat_ws(' ', 'migration', name) FROM migration
		UNION ALL SELECT concat_ws(' ', 'schema', nspname) FROM pg_namespace WHERE nspname NOT LIKE 'pg_%temp_%'
		UNION ALL SELECT concat_ws(' ', 'setting', setconfig) FROM pg_db_role_setting
			WHERE setdatabase = (SELECT oid FROM pg_database WHERE datname = current_database())
	) AS facts`;

/** So that no guard of the program's stands in the way. What the migrations have written of themselves stays. */
const EMPTY = `
	SET session_replication_role = replica;
	DO $$ DECLARE "table" text; BEGIN
		FOR "table" IN SELECT relname FROM pg_class
			WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname <> 'migration'
		LOOP EXECUTE format('DELETE FROM %I', "table"); END LOOP;
	END $$`;

/** One that has grown by more has been written to so much that a new one is the faster. */
const MOST_BYTES = 24 * 1024 * 1024;

/** Notes what the schema is before anybody has used it. */
export async function noteAsMade(location: string): Promise<void> {
	const kept = keptDatabases();
	if (kept.asMade === undefined) kept.asMade = await within(location, schemaOf);
}

/** @returns whether a database was emptied, and is kept for the next test */
export function givenBack(location: string): Promise<boolean> {
	const kept = keptDatabases();
	return within(location, async (client) => {
		await client.query(
			"SELECT pg_terminate_backend(pid, 2000) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()",
		);
		// The first start with keys has put it there.
		await client.query("DROP FUNCTION IF EXISTS refuse_unsealed CASCADE");
		const { rows } = await client.query<{ bytes: string }>("SELECT pg_database_size(current_database()) AS bytes");
		if (Number(rows[0]?.bytes) > MOST_BYTES || (await schemaOf(client)) !== kept.asMade) return false;
		await client.query(EMPTY);
		kept.free.push(location);
		return true;
	});
}

async function schemaOf(client: Client): Promise<string> {
	const { rows } = await client.query<{ facts: string }>(SCHEMA);
	return (rows[0] as { facts: string }).facts;
}

/** Does something on a database over a line of its own. */
export async function within<T>(location: string, act: (client: Client) => Promise<T>): Promise<T> {
	const client = new Client({ connectionString: location });
	await client.connect();
	try {
		return await act(client);
	} finally {
		await client.end();
	}
}
