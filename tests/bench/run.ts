import { cpus, totalmem } from "node:os";
import { run as assignment } from "./assignment.bench.js";
import { run as dispatch } from "./dispatch.bench.js";
import type { Figure } from "./figure.js";
import { run as nightly } from "./nightly.bench.js";
import { run as reminders } from "./reminders.bench.js";
import { run as science } from "./science.bench.js";
import { run as start } from "./start.bench.js";
import { run as sweep } from "./sweep.bench.js";

/** Every set of figures by the word that runs it alone. */
const SETS: Readonly<Record<string, () => Promise<Figure[]>>> = {
	science,
	start,
	sweep,
	nightly,
	dispatch,
	reminders,
	assignment,
};

const asked = process.argv.slice(2);
const unknown = asked.filter((name) => !(name in SETS));
if (unknown.length > 0) {
	console.error(`no figures are named ${unknown.join(", ")}; there are ${Object.keys(SETS).join(", ")}`);
	process.exit(2);
}
const rounded = (value: number) => (value >= 100 ? Math.round(value).toLocaleString("en") : value.toPrecision(3));
console.log(`Node ${process.version}, ${cpus().length} cores (${cpus()[0]?.model}), ${Math.round(totalmem() / 1e9)} GB\n`);
console.log("| figure | value | floor | ratio | promised |\n| --- | --- | --- | --- | --- |");
for (const [name, figures] of Object.entries(SETS)) {
	if (asked.length > 0 && !asked.includes(name)) continue;
	for (const { name: what, value, floor, unit, bar } of await figures())
		console.log(
			`| ${what} | ${rounded(value)} ${unit} | ${rounded(floor)} ${unit} | ${(value / floor).toPrecision(3)} | ${bar} |`,
		);
}
process.exit(0);
