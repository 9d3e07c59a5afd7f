import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Client } from "pg";
import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Store } from "../../src/store/store.js";

export type DatabaseKind = "sqlite" | "postgres";

const POSTGRES = process.env["JARWATCH_TEST_POSTGRES_URL"] ?? "postgres://postgres@127.0.0.1:5432/postgres";

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
	const name = `jarwatch_test_${process.pid}_${Math.random().toString(36).slice(2, 10)}`;
	await onServer(`CREATE DATABASE ${name}`);
	const url = new URL(POSTGRES);
	url.pathname = `/${name}`;
	return { location: url.href, remove: () => onServer(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`) };
}

/** @returns an open store with the schema made by the migrations; closing it removes the database too */
export async function newStore(kind: DatabaseKind): Promise<Store & { remove(): Promise<void>; again(): Promise<Store> }> {
	const database = await newDatabase(kind);
	const open = () => Store.open({ location: database.location, entities, migrations });
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

async function onServer(statement: string): Promise<void> {
	const client = new Client({ connectionString: POSTGRES });
	await client.connect();
	try {
		await client.query(statement);
	} finally {
		await client.end();
	}
}

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
	return servicesHere().postgres ? ["sqlite", "postgres"] : ["sqlite"];
}

/** What the run found when it began (see services.cjs). */
export function servicesHere(): { postgres: boolean; redis: boolean } {
	return JSON.parse(process.env["JARWATCH_TEST_FOUND"] ?? '{"postgres":true,"redis":true}');
}
