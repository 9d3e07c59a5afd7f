import { type QueryRunner, Table, TableForeignKey, TableIndex, type TableIndexOptions } from "typeorm";

const TYPES = { text: "text", instant: "bigint", whole: "integer", real: "double precision", flag: "boolean" } as const;

/**
 * Makes a table from one word a column: the kind of value, `key` for a primary key, `?` where it may be absent,
 * `> area` where it names a row of another table. The same on both databases.
 */
export async function table(runner: QueryRunner, name: string, columns: Record<string, string>): Promise<void> {
	const parsed = Object.entries(columns).map(([column, text]) => ({ column, ...columnOf(text) }));
	await runner.createTable(
		new Table({
			name,
			columns: parsed.map(({ column, type, isPrimary, isNullable }) => ({ name: column, type, isPrimary, isNullable })),
			foreignKeys: parsed.flatMap(({ column, target }) =>
				target ? [{ columnNames: [column], referencedTableName: target, referencedColumnNames: ["id"] }] : [],
			),
		}),
	);
}

export async function index(
	runner: QueryRunner,
	on: string,
	name: string,
	columnNames: string[],
	options: Pick<TableIndexOptions, "isUnique" | "where"> = {},
): Promise<void> {
	await runner.createIndex(on, new TableIndex({ name, columnNames, ...options }));
}

/**
 * Adds columns that may be absent, in the words of `table`. Said in SQL on SQLite: there the ORM would make the whole table anew, and what
 * hangs on its rows would be lost.
 */
export async function addColumns(runner: QueryRunner, on: string, columns: Record<string, string>): Promise<void> {
	for (const [name, text] of Object.entries(columns)) {
		const { type, isPrimary, isNullable, target } = columnOf(text);
		if (isPrimary || !isNullable)
			throw new Error(`${on}.${name} must be one that may be absent: the rows that are there have none`);
		const isSqlite = runner.connection.options.type === "better-sqlite3";
		await runner.query(
			`ALTER TABLE "${on}" ADD COLUMN "${name}" ${type}${isSqlite && target ? ` REFERENCES "${target}" ("id")` : ""}`,
		);
		if (!isSqlite && target) {
			const key = { columnNames: [name], referencedTableName: target, referencedColumnNames: ["id"] };
			await runner.createForeignKey(on, new TableForeignKey(key));
		}
	}
}

/** Takes columns away again, the last first. */
export async function dropColumns(runner: QueryRunner, on: string, names: readonly string[]): Promise<void> {
	for (const name of names.toReversed()) await runner.query(`ALTER TABLE "${on}" DROP COLUMN "${name}"`);
}

function columnOf(text: string): { type: string; isPrimary: boolean; isNullable: boolean; target: string | undefined } {
	const match = /^(text|instant|whole|real|flag)(\?)?( key)?(?: > (\w+))?$/.exec(text);
	if (!match) throw new Error(`a column is described as "${text}"; "text", "real?", "text key" or "text? > area" would be right`);
	return {
		type: TYPES[match[1] as keyof typeof TYPES],
		isNullable: match[2] !== undefined,
		isPrimary: match[3] !== undefined,
		target: match[4],
	};
}
