import { onEachDatabase } from "../support/stores.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

const DAY_MS = 86_400_000;

onEachDatabase("a volunteer's stock", (kind) => {
	let site: ServedSite;
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
	}, 120_000);
	afterAll(() => site.close());

	async function told(): Promise<{ page: string; expectedMl: number; usableMl: number }> {
		const { cookie } = await site.signedIn("vol");
		const { text: page } = await site.shown("/me/stock", { cookie });
		const answer = await fetch(`${site.address}/people/vol/stock`);
		expect(answer.status).toBe(200);
		const { expectedMl, usableMl } = (await answer.json()) as { expectedMl: number; usableMl: number };
		return { page, expectedMl, usableMl };
	}
	const ml = (value: number) => `${Math.round(value).toLocaleString("en")} mL`;

	it("says what is on the book beside what is probably left of it, once some of it has probably been used", async () => {
		const before = await told();
		expect(before.page).toContain(`<dd>${ml(before.expectedMl)}</dd>`);
		site.world.clock.advance(2 * DAY_MS);
		const after = await told();
		// Twenty people in four households use some of it in two days, and nobody has written down how much.
		expect(after.usableMl).toBe(before.usableMl);
		expect(after.expectedMl).toBeLessThan(before.expectedMl - 50);
		expect(after.page).toContain(`<dd>${ml(after.expectedMl)}</dd>`);
		expect(after.page).toContain(`${ml(after.usableMl)} by the book`);
	});

	it("names no place to collect at where there is none", async () => {
		const { page } = await told();
		expect(page).toMatch(/<dd>[\d.]+ L, about /);
		expect(page).not.toContain("–");
	});
});
