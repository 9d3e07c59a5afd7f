import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Store } from "../../src/store/store.js";
import { newDatabase, newStore, onEachDatabase } from "../support/stores.js";

onEachDatabase("the store", (kind) => {
	it("has the schema that the entities ask for once the migrations have run, and not a statement less", async () => {
		const store = await newStore(kind);
		try {
			if (kind === "sqlite") await setAddedKeysAside(store);
			const drift = await store.writer.driver.createSchemaBuilder().log();
			expect(drift.upQueries.map(({ query }) => query)).toEqual([]);
		} finally {
			await store.remove();
		}
	});

	it("loses no acknowledged write when 200 units of work start at once and every third rolls back", async () => {
		const store = await newStore(kind);
		try {
			const outcomes = await Promise.allSettled(
				Array.from({ length: 200 }, (_, i) =>
					store.work.run(async (tx) => {
						await tx.query("INSERT INTO import_file (id, kind, sha256, rows, imported_at_ms) VALUES ($1, 'k', $2, 0, 0)", [
							`a${i}`,
							`a${i}`,
						]);
						await tx.query("INSERT INTO import_file (id, kind, sha256, rows, imported_at_ms) VALUES ($1, 'k', $2, 0, 0)", [
							`b${i}`,
							`b${i}`,
						]);
						if (i % 3 === 0) throw new Error("rolled back on purpose");
					}),
				),
			);
			const kept = outcomes.flatMap((o, i) => (o.status === "fulfilled" ? [`a${i}`, `b${i}`] : []));
			const rows = await store.query<{ id: string }>("SELECT id FROM import_file ORDER BY id");
			expect(rows.map((row) => row.id)).toEqual(kept.sort());
			expect(kept).toHaveLength(266);
		} finally {
			await store.remove();
		}
	});

	if (kind === "sqlite")
		it("keeps what a statement would undo in memory: a file beside it cost a sixth of a night", async () => {
			const store = await newStore(kind);
			try {
				// 2 is MEMORY. Source: SQLite documentation, PRAGMA temp_store
				expect(await store.work.run((tx) => tx.query("PRAGMA temp_store"))).toEqual([{ tempStore: 2 }]);
			} finally {
				await store.remove();
			}
		});

	it("joins a unit of work that is started inside another, so that both are kept or neither", async () => {
		const store = await newStore(kind);
		try {
			const add = (id: string) =>
				store.work.run((tx) =>
					tx.query("INSERT INTO import_file (id, kind, sha256, rows, imported_at_ms) VALUES ($1, 'k', $1, 0, 0)", [id]),
				);
			await expect(
				store.work.run(async () => {
					await add("inner");
					throw new Error("outer fails");
				}),
			).rejects.toThrow("outer fails");
			expect(await store.query("SELECT id FROM import_file")).toEqual([]);
		} finally {
			await store.remove();
		}
	});

	it("keeps every row, and what hangs on it, when the steps after the first are made in a database that is in use; and when they are undone", async () => {
		const database = await newDatabase(kind);
		const rows = async (store: Store) =>
			store.query(
				"SELECT b.code, p.code AS keeper, g.code AS generator, t.reading FROM strength_test t JOIN batch b ON b.id = t.batch_id JOIN person p ON p.id = b.keeper_id JOIN generator g ON g.id = b.generator_id",
			);
		const [first] = migrations;
		const before = await Store.open({ location: database.location, entities: [], migrations: [first!] });
		await before.work.run(async (tx) => {
			await tx.query(
				"INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate) VALUES ('a', 'A', 'Invented', 'UTC', 0, 0, 0, '[]')",
			);
			await tx.query(
				"INSERT INTO person (id, code, role, name, language, area_id, working_days, quiet_from, quiet_until, channels, active) VALUES ('p', 'P', 'volunteer', 'Invented', 'en', 'a', '[1]', '20:00', '06:00', '[]', $1)",
				[true],
			);
			await tx.query(
				"INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service) VALUES ('g', 'G', 'Invented', 'a', 10, 1, 0.6, 5, 30, $1)",
				[true],
			);
			await tx.query(
				"INSERT INTO batch (id, code, generator_id, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph_knowledge, wall, exposure, lit_area_m2, state) VALUES ('b', 'B', 'g', 'a', 'p', 0, 5, 5, 0.15, 30, 'not measured', 'opaque', 'indoors', 0, 'in use')",
			);
			await tx.query(
				"INSERT INTO strength_test (id, batch_id, tested_at_ms, recorded_at_ms, kit, sample_ml, made_up_to_l, reading, low_g_per_l, flags) VALUES ('t', 'b', 0, 0, 'k', 1, 1, '3', 2.5, '[]')",
			);
		});
		const kept = await rows(before);
		expect(kept).toEqual([{ code: "B", keeper: "P", generator: "G", reading: "3" }]);
		await before.close();
		const after = await Store.open({ location: database.location, entities, migrations });
		expect(await rows(after)).toEqual(kept);
		for (let step = migrations.length; step > 1; step--) await after.writer.undoLastMigration();
		expect(await rows(after)).toEqual(kept);
		await after.close();
		await database.remove();
	});

	it("refuses a database that a later release has changed, and names the step", async () => {
		const database = await newDatabase(kind);
		try {
			const store = await Store.open({ location: database.location, entities, migrations });
			await store.work.run((tx) =>
				tx.query(`INSERT INTO migration ("timestamp", name) VALUES (9999999999999, 'FromTheFuture9999999999999')`),
			);
			await store.close();
			await expect(Store.open({ location: database.location, entities, migrations })).rejects.toThrow(
				/FromTheFuture9999999999999/,
			);
		} finally {
			await database.remove();
		}
	});

	it("lets three starters at once make the schema once", async () => {
		if (kind === "sqlite") return void expect(kind).toBe("sqlite");
		const database = await newDatabase(kind);
		try {
			const stores = await Promise.all([1, 2, 3].map(() => Store.open({ location: database.location, entities, migrations })));
			expect(await stores[2]!.query("SELECT count(*) AS steps FROM migration")).toEqual([{ steps: migrations.length }]);
			await Promise.all(stores.map((store) => store.close()));
		} finally {
			await database.remove();
		}
	});
});

/**
 * A foreign key of a column that was added later stands beside the column in SQLite's own text of the table, without the name that the ORM
 * knows keys by: each is looked for in what SQLite itself says, and compared as one without a name.
 */
async function setAddedKeysAside(store: Store): Promise<void> {
	for (const { tableName, foreignKeys } of store.writer.entityMetadatas) {
		const keys = await store.query<{ table: string; from: string; to: string }>(`PRAGMA foreign_key_list("${tableName}")`);
		const [made] = await store.query<{ sql: string }>("SELECT sql FROM sqlite_master WHERE name = $1", [tableName]);
		for (const key of foreignKeys) {
			const [column] = key.columnNames;
			if (made?.sql.includes(`FOREIGN KEY ("${column}")`)) continue;
			expect(keys).toContainEqual(expect.objectContaining({ from: column, table: key.referencedTablePath, to: "id" }));
			Object.assign(key, { name: undefined });
		}
	}
}
