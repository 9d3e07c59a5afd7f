import { pageTexts } from "../../src/pages/texts.js";
import { COLLECT, REPLENISH } from "../../src/stock/due-work.js";
import { onEachDatabase } from "../support/stores.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

/** Source: Unicode CLDR, Gregorian calendar, format of skeleton yMMMd; its Arabic one with the digits 0 to 9 that all pages bear. */
const FIFTEENTH_OF_MARCH: Readonly<Record<string, string>> = {
	en: "Mar 15, 2027",
	fr: "15 mars 2027",
	es: "15 mar 2027",
	pt: "15 de mar. de 2027",
	sw: "15 Mac 2027",
	ar: "15 مارس 2027",
};

onEachDatabase("days that a volunteer is told", (kind) => {
	let site: ServedSite;
	let cookie: string;
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
		const { store, clock } = site.world;
		const nowMs = clock.nowMs();
		await store.work.run(async (tx) => {
			const open = (id: string, task: string, brief: object) =>
				tx.query(
					`INSERT INTO task (id, code, kind, subject_id, cycle, area_id, assignee_id, state, due_at_ms, opened_at_ms, brief, ladder_step)
					 VALUES ($1, $1, $2, $1, 1, 'area', 'vol', 'open', $3, $3, $4, 0)`,
					[id, task, nowMs, JSON.stringify(brief)],
				);
			const collected = {
				litres: 2,
				point: "G1",
				generatorId: "-",
				usableMl: 90,
				usableG: 0.4,
				reorderG: 1,
				forDays: 9,
				leadDays: 2,
			};
			await open("c1", COLLECT, { ...collected, outOn: "2027-03-15" });
			const wanted = { kind: "reagent", unit: "drop", held: 3, reorderAt: 5, orderUpTo: 30, quantity: 27, because: "expires" };
			await open("r1", REPLENISH, { ...wanted, item: "2027-03-16", expiresOn: "2027-03-15" });
			const lot = { reagent: "K1", kit: "colour", lot: "L-2027-03-17", openedOn: "-", openedDays: 90, expiresOn: "2028-01-01" };
			await open("r2", "renew reagent", { ...lot, reason: "opened", useUntilOn: "2027-03-15" });
			await tx.query(
				`INSERT INTO stock_item (id, code, kind, unit, area_id, holder_id, held, expires_on, changed_at_ms) VALUES ('i1', 'I1', 'reagent', 'drop', 'area', 'vol', 30, '2027-03-15', 0)`,
			);
			// Where days begin first: noon of UTC is the next day there.
			await tx.query("UPDATE area SET time_zone = 'Pacific/Kiritimati'");
		});
		({ cookie } = await site.signedIn("vol"));
	}, 120_000);
	afterAll(() => site.close());

	it.each(pageTexts.languages)("are written in %s as the language has them, with the year, in every zone", async (language) => {
		const told = FIFTEENTH_OF_MARCH[language]!;
		const shown = async (path: string) => (await site.shown(path, { cookie: `${cookie}; jarwatch-language=${language}` })).text;
		const today = await shown("/me");
		for (const id of ["c1", "r1", "r2"]) {
			const card = new RegExp(`id="t-${id}"[\\s\\S]*?<p class="why">([\\s\\S]*?)</p>`).exec(today)?.[1];
			expect({ id, card }).toEqual({ id, card: expect.stringContaining(told) });
		}
		expect(today).not.toContain("2027-03-15");
		// Codes that hold a day are left as they are.
		for (const code of ["2027-03-16", "L-2027-03-17"]) expect(today).toContain(code);
		expect(await shown("/me/stock")).toContain(`<td>${told}</td>`);
	});
});
