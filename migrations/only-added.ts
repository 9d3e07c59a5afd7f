import type { QueryRunner } from "typeorm";

/** From now on the database itself refuses to change or remove rows of a table. */
export async function onlyAdded(runner: QueryRunner, on: string): Promise<void> {
	if (runner.connection.options.type === "better-sqlite3") {
		for (const act of ["UPDATE", "DELETE"])
			await runner.query(
				`CREATE TRIGGER ${triggerOf(on, act)} BEFORE ${act} ON ${on} BEGIN SELECT RAISE(ABORT, '${refusal(on)}'); END`,
			);
		return;
	}
	await runner.query(
		`CREATE FUNCTION ${on}_only_added() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '${refusal(on)}'; END $$`,
	);
	await runner.query(
		`CREATE TRIGGER ${on}_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON ${on} FOR EACH STATEMENT EXECUTE FUNCTION ${on}_only_added()`,
	);
}

/** Takes the refusal away again. */
export async function onlyAddedNoMore(runner: QueryRunner, on: string): Promise<void> {
	if (runner.connection.options.type === "better-sqlite3") {
		for (const act of ["UPDATE", "DELETE"]) await runner.query(`DROP TRIGGER ${triggerOf(on, act)}`);
		return;
	}
	await runner.query(`DROP TRIGGER ${on}_only_added ON ${on}`);
	await runner.query(`DROP FUNCTION ${on}_only_added()`);
}

const triggerOf = (on: string, act: string): string => `${on}_no_${act.toLowerCase()}`;

const refusal = (on: string): string => `rows of ${on} are only ever added`;
