import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import type { Importer } from "../../src/programme/import/importer.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { HEADERS, importerFor, programmeBefore } from "./files.js";

setFlagsFromString("--expose-gc");
const collectGarbage = runInNewContext("gc") as () => void;

const ROWS = 100_000;
const CHANGED = 40_000;
const MEBIBYTE = 1024 * 1024;
/** What the import may hold at once. The file itself is 15 MB, and its rows as objects take 60 MB and more (computed independently). */
const BOUND_BYTES = 32 * MEBIBYTE;

/** A file of invented households, made while it is read: nothing of it is held. */
async function* householdFile(leastPersons: number, rows: number): AsyncGenerator<Uint8Array> {
	yield Buffer.from(`${HEADERS.households}\n`);
	const source = "x".repeat(90);
	for (let from = 0; from < rows; from += 500) {
		let text = "";
		for (let i = from; i < from + 500; i++) {
			// A step that shares no factor with the number of rows visits every one in an order that no index likes.
			const number = String((i * 7919) % ROWS).padStart(6, "0");
			text += `HOUSE-${number},LAKE-1,V1,${leastPersons + (i % 9)},${source}${number},clear,23.${number},90.${number}\n`;
		}
		yield Buffer.from(text);
	}
}

onEachDatabase("the memory of an import", (kind) => {
	it(`grows by less than 32 MiB while ${ROWS} households (15 MB) are imported, and while ${CHANGED} of them are changed and told of in the ledger`, async () => {
		const store = await newStore(kind);
		try {
			const importer = importerFor(store);
			await programmeBefore(importer, "households");
			const { report, growthBytes } = await growthWhile(importer, 1, ROWS);
			expect(report).toMatchObject({ state: "imported", rows: ROWS, added: ROWS });
			expect(await store.query("SELECT count(*) AS n, min(code) AS a, max(code) AS z FROM household")).toEqual([
				{ n: ROWS, a: "HOUSE-000000", z: "HOUSE-099999" },
			]);
			expect(growthBytes).toBeLessThan(BOUND_BYTES);
			const changing = await growthWhile(importer, 2, CHANGED);
			expect(changing.report).toMatchObject({ state: "imported", rows: CHANGED, changed: CHANGED });
			expect(changing.growthBytes).toBeLessThan(BOUND_BYTES);
			const told = "SELECT count(DISTINCT subject_id) AS n FROM ledger_entry WHERE action = 'changed by import'";
			expect(await store.query(told)).toEqual([{ n: CHANGED }]);
		} finally {
			await store.remove();
		}
	}, 360_000);
});

/** The most that was alive at any of many instants, beyond what was alive before: garbage that waits for its collection isn't counted. */
async function growthWhile(importer: Importer, leastPersons: number, rows: number) {
	const aliveBytes = () => {
		collectGarbage();
		const { heapUsed, external } = process.memoryUsage();
		return heapUsed + external;
	};
	const before = aliveBytes();
	let most = before;
	let samples = 0;
	const sample = setInterval(() => {
		most = Math.max(most, aliveBytes());
		samples++;
	}, 400);
	try {
		const report = await importer.importFile("households", householdFile(leastPersons, rows));
		expect(samples).toBeGreaterThan(5);
		return { report, growthBytes: most - before };
	} finally {
		clearInterval(sample);
	}
}
