import { copyFileSync, existsSync, mkdtempSync, renameSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Keyring } from "../../src/store/sealing/keyring.js";
import { Store } from "../../src/store/store.js";
import { givenBack, keptDatabases, noteAsMade, within } from "./kept-databases.js";

export type DatabaseKind = "sqlite" | "postgres";

const POSTGRES = process.env["JARWATCH_TEST_POSTGRES_URL"] ?? "postgres://postgres@127.0.0.1:5432/postgres";

/** The key of every test. */
export const TEST_KEY = "invented+key+of+tests+AAAAAAAAAAAAAAAAAAAAA=";
export const TEST_KEYS = new Keyring([TEST_KEY]);

/** A database of its own for a test, and how to remove it. */
export interface TestDatabase {
	readonly location: string;
	remove(): Promise<void>;
}

/** @returns an empty database of the kind, which nobody else uses */
export async function newDatabase(kind: DatabaseKind): Promise<TestDatabase> {
	if (kind === "sqlite") {
		const folder = mkdtempSync(join(tmpdir(), "jarwatch-"));
		return { location: join(folder, "jarwatch.sqlite"), remove: async () => rmSync(folder, { recursive: true, force: true }) };
	}
	return newPostgres();
}

async function newPostgres(prefix = `jarwatch_test_${process.pid}`, from = ""): Promise<TestDatabase> {
	const name = `${prefix}_${Math.random().toString(36).slice(2, 10)}`;
	await onServer(`CREATE DATABASE ${name} ${from}`);
	const url = new URL(POSTGRES);
	url.pathname = `/${name}`;
	return { location: url.href, remove: () => dropped(url.href) };
}

const dropped = (location: string): Promise<void> =>
	onServer(`DROP DATABASE IF EXISTS ${new URL(location).pathname.slice(1)} WITH (FORCE)`);

/**
 * @returns a database with the schema that the migrations make, which nobody else uses. They are run once, and what they made is copied:
 * most tests want a database, and few want to see it made. On PostgreSQL one that a test has given back is emptied for the next.
 */
export async function readyDatabase(kind: DatabaseKind): Promise<TestDatabase> {
	const run = process.env["JARWATCH_TEST_RUN"];
	if (!run) return newDatabase(kind);
	const model = `jarwatch_model_${run}`;
	if (kind === "sqlite") {
		const file = join(tmpdir(), `${model}.sqlite`);
		if (!existsSync(file)) await makeSqliteModel(file);
		const database = await newDatabase(kind);
		copyFileSync(file, database.location);
		return database;
	}
	const location = keptDatabases().free.pop() ?? (await copyOf(model, run));
	return {
		location,
		remove: async () => {
			if (!(await givenBack(location))) await dropped(location);
		},
	};
}

async function copyOf(model: string, run: string): Promise<string> {
	await makePostgresModel(model);
	const { location } = await newPostgres(`jarwatch_kept_${run}`, `TEMPLATE ${model}`);
	await noteAsMade(location);
	return location;
}

/** Two workers may make it at once: each makes one of its own, and the last to be ready stays. */
async function makeSqliteModel(file: string): Promise<void> {
	const { location, remove } = await newDatabase("sqlite");
	await (await Store.open({ location, entities, migrations })).close();
	copyFileSync(location, `${file}.${process.pid}`);
	renameSync(`${file}.${process.pid}`, file);
	await remove();
}

/** Any fixed number serves. */
const MODEL_LOCK = 7_521_905;

function makePostgresModel(name: string): Promise<void> {
	return within(POSTGRES, async (client) => {
		const isThere = async () => (await client.query("SELECT 1 FROM pg_database WHERE datname = $1", [name])).rowCount === 1;
		if (await isThere()) return;
		await client.query("SELECT pg_advisory_lock($1)", [MODEL_LOCK]);
		if (await isThere()) return;
		const { location } = await newPostgres();
		await (await Store.open({ location, entities, migrations })).close();
		// Under its name it is whole.
		await client.query(`ALTER DATABASE ${new URL(location).pathname.slice(1)} RENAME TO ${name}`);
	});
}

/** @returns an open store with the schema made by the migrations; closing it removes the database too */
export async function newStore(kind: DatabaseKind): Promise<Store & { remove(): Promise<void>; again(): Promise<Store> }> {
	const database = await readyDatabase(kind);
	const open = () => Store.open({ location: database.location, entities, migrations, keys: TEST_KEYS });
	const store = await open();
	return Object.assign(store, {
		/** Opens the same database once more, as another process would. */
		again: open,
		remove: async () => {
			await store.close();
			await database.remove();
		},
	});
}

const onServer = (statement: string): Promise<void> =>
	within(POSTGRES, async (client) => {
		await client.query(statement);
	});

/**
 * Runs a suite on every database that is there. PostgreSQL is left out loudly where it doesn't answer,
 * and not at all where JARWATCH_TEST_SERVICES=required.
 */
export function onEachDatabase(title: string, suite: (kind: DatabaseKind) => void): void {
	describe.each(databasesHere())(`${title} on %s`, suite);
	if (!servicesHere().postgres)
		it.skip(`${title} on postgres: left out, because no PostgreSQL answers at the test address`, () => undefined);
}

export function databasesHere(): DatabaseKind[] {
	const alone = process.env["JARWATCH_TEST_DATABASE"];
	if (alone === "sqlite" || alone === "postgres") return [alone];
	return servicesHere().postgres ? ["sqlite", "postgres"] : ["sqlite"];
}

/** What the run found when it began (see services.cjs). */
export function servicesHere(): { postgres: boolean; redis: boolean } {
	return JSON.parse(process.env["JARWATCH_TEST_FOUND"] ?? '{"postgres":true,"redis":true}');
}
