import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { migrations } from "../../../migrations/index.js";
import { Exports, FORMATS, type FormatName } from "../../../src/audit/exports/exports.js";
import { entities } from "../../../src/entities.js";
import { Store } from "../../../src/store/store.js";
import { DAY_MS } from "../../../src/time/clock.js";
import { databasesHere, readyDatabase } from "../../support/stores.js";
import { newWorld, START_MS } from "../../support/world.js";
import { inventedFacts, putFacts } from "../coverage-facts.js";

const NOW = START_MS + 7 * DAY_MS;
const FORMAT_NAMES = Object.keys(FORMATS) as FormatName[];
const asked = { areaCode: "NAT", from: "2026-01-01", to: "2026-01-31" };
const digest = (bytes: Buffer) => createHash("sha256").update(bytes).digest("hex");

describe("the same question", () => {
	it("gives the same bytes in every format, on each database, asked now or later", async () => {
		const seen: Record<string, string[]> = Object.fromEntries(FORMAT_NAMES.map((format) => [format, []]));
		for (const kind of databasesHere()) {
			const world = await newWorld(kind);
			try {
				world.clock.moveTo(NOW);
				await putFacts(world.store, inventedFacts(11, NOW));
				for (const laterMs of [0, 3 * DAY_MS])
					for (const format of FORMAT_NAMES) {
						world.clock.moveTo(NOW + laterMs);
						const bytes = await world.the(Exports).figures(format, asked);
						seen[format]?.push(digest(bytes));
					}
			} finally {
				await world.remove();
			}
		}
		for (const format of FORMAT_NAMES)
			expect({ format, different: new Set(seen[format]).size }).toEqual({ format, different: 1 });
	}, 60_000);

	it("gives the same bytes in another process, time zone and language", async () => {
		if (!existsSync("dist/src/cli.js")) throw new Error("the program isn't built: npm run build, then again");
		const database = await readyDatabase("sqlite");
		const folder = mkdtempSync(join(tmpdir(), "jarwatch-export-"));
		try {
			const store = await Store.open({ location: database.location, entities, migrations });
			await putFacts(store, inventedFacts(11, NOW));
			await store.close();
			const exported = (format: string, place: Record<string, string>) => {
				const out = join(folder, `figures.${format}`);
				const from = ["--area", "NAT", "--from", asked.from, "--to", asked.to];
				execFileSync(process.execPath, ["dist/src/cli.js", "export", ...from, "--as", format, "--out", out], {
					env: { PATH: process.env["PATH"], JARWATCH_DATA_FOLDER: join(database.location, ".."), ...place },
				});
				return digest(readFileSync(out));
			};
			for (const format of FORMAT_NAMES)
				expect(exported(format, { TZ: "Asia/Kathmandu", LANG: "de_DE.UTF-8" })).toBe(
					exported(format, { TZ: "America/St_Johns", LC_ALL: "C" }),
				);
		} finally {
			rmSync(folder, { recursive: true });
			await database.remove();
		}
	}, 120_000);
});
