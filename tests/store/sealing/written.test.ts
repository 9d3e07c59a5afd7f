import type { SealedColumn } from "../../../src/store/sealing/sealed-columns.js";
import { writtenBy } from "../../../src/store/sealing/written.js";

const column = (name: string, more: Partial<SealedColumn> = {}): SealedColumn => ({
	table: "person",
	column: name,
	key: "id",
	label: `person.${name}`,
	...more,
});
const COLUMNS = [column("name"), column("email")];
const written = (statement: string) =>
	[...writtenBy(statement, (table) => (table === "person" ? COLUMNS : []))].map(([at, { column: name }]) => [at, name]);

describe("what a statement writes into sealed columns", () => {
	it.each([
		[
			"INSERT INTO person (id, name, email) VALUES ($1, $2, $3)",
			[
				[1, "name"],
				[2, "email"],
			],
		],
		[
			"INSERT INTO person (id, code, name) VALUES ($1,$1,$2),($3,$3,$4)",
			[
				[1, "name"],
				[3, "name"],
			],
		],
		[
			"INSERT INTO person (id, role, name) VALUES ($1, 'a, (b', $2) ON CONFLICT (id) DO UPDATE SET name = excluded.name RETURNING id",
			[[1, "name"]],
		],
		["INSERT INTO person (id) VALUES ($1) ON CONFLICT (id) DO UPDATE SET role = 'x', email = $2", [[1, "email"]]],
		["UPDATE person SET active = $2, email = CAST($3 AS text) WHERE id = $1", [[2, "email"]]],
		["UPDATE person AS p SET name = $12 WHERE id = $1", [[11, "name"]]],
		["UPDATE person SET name = '', email = NULL WHERE id = $1", []],
		["UPDATE person SET active = $2 WHERE email = $1", []],
		["INSERT INTO area (id, name) VALUES ($1, $2)", []],
		["SELECT name FROM person WHERE id = $1", []],
	])("%s", (statement, expected) => {
		expect(written(statement)).toEqual(expected);
	});

	it.each([
		"INSERT INTO person (id, name) VALUES ($1, 'Zawadi')",
		"INSERT INTO person (id, name) SELECT id, name FROM elsewhere",
		"INSERT INTO person VALUES ($1, $2)",
		"UPDATE person SET name = v.column2 FROM (VALUES ($1, $2)) AS v WHERE person.id = v.column1",
		"UPDATE person SET name = $2 || 'x' WHERE id = $1 AND code <> $2",
		"UPDATE person SET name = $1 WHERE id = $1",
	])("is refused where a value would rest as it is: %s", (statement) => {
		expect(() => written(statement)).toThrow(/is sealed|has sealed columns/);
	});
});
