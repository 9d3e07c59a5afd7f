import { spawnSync } from "node:child_process";
import { cpus, totalmem } from "node:os";
import { databasesHere } from "../support/stores.js";
import { run as assignment } from "./assignment.bench.js";
import { run as dispatch } from "./dispatch.bench.js";
import type { Figure } from "./figure.js";
import { run as growth } from "./growth.bench.js";
import { run as ledger } from "./ledger.bench.js";
import { run as nightly } from "./nightly.bench.js";
import { run as page } from "./page.bench.js";
import { run as reminders } from "./reminders.bench.js";
import { run as report } from "./report.bench.js";
import { run as science } from "./science.bench.js";
import { run as start } from "./start.bench.js";
import { run as sweep } from "./sweep.bench.js";

/** Every set of figures by the word that runs it alone. */
const SETS: Readonly<Record<string, () => Promise<Figure[]>>> = {
	science,
	start,
	sweep,
	nightly,
	growth,
	dispatch,
	reminders,
	assignment,
	report,
	ledger,
	page,
};

/** Sets that tell of memory: each database has a process of its own, or the second would be told of what the first one left. */
const APART = new Set(["sweep", "nightly"]);

const asked = process.argv.slice(2);
const unknown = asked.filter((name) => !(name in SETS));
if (unknown.length > 0) {
	console.error(`no figures are named ${unknown.join(", ")}; there are ${Object.keys(SETS).join(", ")}`);
	process.exit(2);
}
const rounded = (value: number) => (value >= 100 ? Math.round(value).toLocaleString("en") : value.toPrecision(3));
if (!process.env["JARWATCH_TEST_DATABASE"]) heading();
for (const [name, figures] of Object.entries(SETS)) {
	if (asked.length > 0 && !asked.includes(name)) continue;
	if (APART.has(name) && !process.env["JARWATCH_TEST_DATABASE"]) {
		for (const database of databasesHere()) {
			const env = { ...process.env, JARWATCH_TEST_DATABASE: database };
			const { status } = spawnSync(process.execPath, [process.argv[1] as string, name], { env, stdio: "inherit" });
			if (status !== 0) process.exit(1);
		}
		continue;
	}
	for (const { name: what, value, floor, unit, bar } of await figures())
		console.log(
			`| ${what} | ${rounded(value)} ${unit} | ${rounded(floor)} ${unit} | ${(value / floor).toPrecision(3)} | ${bar} |`,
		);
}
process.exit(0);

function heading(): void {
	console.log(`Node ${process.version}, ${cpus().length} cores (${cpus()[0]?.model}), ${Math.round(totalmem() / 1e9)} GB\n`);
	console.log("| figure | value | floor | ratio | promised |\n| --- | --- | --- | --- | --- |");
}
