// Removes the models that this run's databases were copied from, and the copies that were kept for the next test.
const { rmSync } = require("node:fs");
const { tmpdir } = require("node:os");
const { join } = require("node:path");
const { Client } = require("pg");

module.exports = async () => {
	const name = `jarwatch_model_${process.env.JARWATCH_TEST_RUN}`;
	rmSync(join(tmpdir(), `${name}.sqlite`), { force: true });
	if (!JSON.parse(process.env.JARWATCH_TEST_FOUND ?? "{}").postgres) return;
	const client = new Client({
		connectionString: process.env.JARWATCH_TEST_POSTGRES_URL ?? "postgres://postgres@127.0.0.1:5432/postgres",
	});
	await client.connect();
	const kept = await client.query("SELECT datname FROM pg_database WHERE starts_with(datname, $1)", [
		`jarwatch_kept_${process.env.JARWATCH_TEST_RUN}_`,
	]);
	for (const { datname } of [{ datname: name }, ...kept.rows])
		await client.query(`DROP DATABASE IF EXISTS ${datname} WITH (FORCE)`);
	await client.end();
};
