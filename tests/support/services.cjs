// Looks once, before the run, which servers answer. Tests that need one are left out loudly where it is absent,
// and the run stops at once where JARWATCH_TEST_SERVICES=required, as it is in CI.
const { existsSync } = require("node:fs");
const { connect } = require("node:net");

function answers(url, port) {
	const { hostname, port: given } = new URL(url);
	return new Promise((resolve) => {
		const socket = connect({ host: hostname, port: Number(given) || port, timeout: 2000 });
		const end = (found) => {
			socket.destroy();
			resolve(found);
		};
		socket
			.once("connect", () => end(true))
			.once("error", () => end(false))
			.once("timeout", () => end(false));
	});
}

module.exports = async () => {
	const found = {
		postgres: await answers(process.env.JARWATCH_TEST_POSTGRES_URL ?? "postgres://127.0.0.1:5432/postgres", 5432),
		redis: await answers(process.env.JARWATCH_TEST_REDIS_URL ?? "redis://127.0.0.1:6379", 6379),
		chromium: existsSync(process.env.JARWATCH_TEST_CHROMIUM ?? "/usr/bin/chromium"),
	};
	process.env.JARWATCH_TEST_FOUND = JSON.stringify(found);
	// Names the models that databases of this run are copied from (see models.ts).
	process.env.JARWATCH_TEST_RUN = `${process.pid}_${Date.now().toString(36)}`;
	const absent = Object.keys(found).filter((name) => !found[name]);
	if (absent.length === 0) return;
	const line = `${absent.join(" and ")} not found: tests that need ${absent.length > 1 ? "them" : "it"} are left out (docker compose up -d postgres redis brings servers, apt-get install chromium the browser that JARWATCH_TEST_CHROMIUM names)`;
	if (process.env.JARWATCH_TEST_SERVICES === "required") throw new Error(`${line}, and this run requires them`);
	console.warn(`\n*** ${line} ***\n`);
};
