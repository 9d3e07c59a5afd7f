import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { servicesHere } from "../../support/stores.js";
import { Crew } from "./crew.js";
import { figuresOf } from "./figures.js";
import type { Soaked } from "./soak.js";

/** Tests that need a PostgreSQL and a Redis of their own; left out loudly where there can be none, unless this run requires them. */
export function withEverything(title: string, tests: () => void): void {
	const absent = Crew.absent(servicesHere());
	if (absent === undefined) describe(title, tests);
	else if (process.env["JARWATCH_TEST_SERVICES"] === "required")
		it(title, () => {
			throw new Error(`this run requires everything, and ${absent}`);
		});
	else it.skip(`${title}: left out, because ${absent}`, () => undefined);
}

export function expectPromisesKept({ load, outcome, troubled }: Soaked): void {
	expect(troubled.length).toBeGreaterThan(0);
	// 409: the same answer is at work, or was cut off so lately that its key is still held; or it was taken before.
	const unexpected = load.asked.filter(({ ending }) => ![200, 409, 503, "no connection"].includes(ending));
	expect([...new Set(unexpected.map(({ route, ending }) => `${route}: ${ending}`))]).toEqual([]);
	expect(load.leftOut).toBe(0);
	const { extraSends, jars, tasks, messages, ledger, ...whole } = outcome;
	expect(whole).toEqual({
		jarsLost: [],
		jarsWithoutTask: 0,
		doubledTasks: 0,
		answersLost: [],
		doubledEntries: 0,
		unsent: 0,
		lost: [],
		unknown: [],
		extraWithoutCause: [],
		endedByThemselves: [],
	});
	expect(ledger.findings).toEqual([]);
	expect([jars, tasks, messages, ledger.entries].every((count) => count > 0)).toBe(true);
	// What was asked while nothing was wrong is mostly answered.
	const quiet = load.asked.filter(({ inTrouble }) => !inTrouble);
	expect(quiet.filter(({ ending }) => ending === 200).length).toBeGreaterThanOrEqual(quiet.length / 2);
}

export function keepFigures(name: string, seen: Soaked): void {
	const folder = join(__dirname, "../../../test-artefacts");
	mkdirSync(folder, { recursive: true });
	const page = figuresOf(seen);
	writeFileSync(join(folder, `${name}.md`), page);
	console.log(page);
}
