import { HELD } from "../../src/personal/held.js";
import { newStore } from "../support/stores.js";

it("a person's own copy knows every column of the schema that names a person", async () => {
	const store = await newStore("sqlite");
	try {
		const naming = store.writer.entityMetadatas.flatMap(({ tableName, foreignKeys, columns }) => [
			...foreignKeys
				.filter(({ referencedEntityMetadata }) => referencedEntityMetadata.tableName === "person")
				.flatMap(({ columnNames }) => columnNames.map((column) => `${tableName}.${column}`)),
			...columns
				.map(({ databaseName }) => databaseName)
				.filter((column) => /(^|_)(person|volunteer|keeper|tester|operator|assignee|supervisor|recipient|by)_id$/.test(column))
				.map((column) => `${tableName}.${column}`),
		]);
		const known = new Set(HELD.flatMap(({ table, by }) => by.map((column) => `${table}.${column}`)));
		expect([...new Set(naming)].filter((column) => !known.has(column)).sort()).toEqual([]);
		const columns = new Set(
			store.writer.entityMetadatas.flatMap(({ tableName, columns: all }) =>
				all.map(({ databaseName }) => `${tableName}.${databaseName}`),
			),
		);
		const told = HELD.flatMap(({ table, by, only = [], without = [] }) =>
			[...by, ...only, ...without].map((column) => `${table}.${column}`),
		);
		expect(told.filter((column) => !columns.has(column))).toEqual([]);
	} finally {
		await store.remove();
	}
});
