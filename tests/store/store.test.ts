import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Store } from "../../src/store/store.js";
import { newDatabase, newStore, onEachDatabase } from "../support/stores.js";

onEachDatabase("the store", (kind) => {
	it("has the schema that the entities ask for once the migrations have run, and not a statement less", async () => {
		const store = await newStore(kind);
		try {
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
