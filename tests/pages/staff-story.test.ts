// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
import type { Browser, BrowserContextOptions, Page } from "playwright-core";
import { Samples } from "../../src/audit/sample/samples.js";
import { beyondTheEdge, DESK, foundByAxe, inBrowser, keepShot, PHONE, startedBrowser, tooSmallToHit } from "./browser.js";
import { putDistrict } from "./district.js";
import { putIncident, putWork, type ServedSite, servedSite } from "./site.js";

const SUPERVISOR_PAGES = [
	"/team",
	"/team/map",
	"/team/people/amina",
	"/team/proposals",
	"/team/incidents",
	"/team/incidents/incident-seen",
	"/team/plan",
	"/team/jars",
	"/team/jars/FIG-J12",
];

const OFFICE_PAGES = [
	"/office",
	"/office/trends?indicator=households-assigned",
	"/office/failures",
	"/office/incidents/incident-seen",
	"/office/checks",
	"/office/samples",
];

/** Ours, one with longer words, and one that runs from the right. */
const LANGUAGES = ["en", "fr", "ar"];

inBrowser("those who lead in a browser", () => {
	let site: ServedSite;
	let browser: Browser;
	beforeAll(async () => {
		site = await servedSite("sqlite");
		await putWork(site.world);
		await putDistrict(site.world);
		await site.world.store.work.run((tx) =>
			tx.query("UPDATE task SET ladder_step = 1, due_at_ms = due_at_ms - 172800000 WHERE kind <> 'retest stored bleach'"),
		);
		await putIncident(site.world, "seen");
		browser = await startedBrowser();
	}, 120_000);
	afterAll(async () => {
		await browser?.close();
		await site?.close();
	});

	async function signedIn(options: BrowserContextOptions, personId: string): Promise<Page> {
		const context = await browser.newContext(options);
		const { secret } = await site.signedIn(personId);
		await context.addCookies([{ name: "session", value: secret, url: site.address }]);
		context.setDefaultTimeout(120_000);
		const page = await context.newPage();
		await page.goto(`${site.address}/`);
		return page;
	}

	/** As every page is looked at, in a language that runs either way: axe, what can be hit, text of 200 %. */
	async function lookedAt(page: Page, path: string, name: string, languages: readonly string[] = LANGUAGES): Promise<void> {
		for (const language of languages) {
			await page.context().addCookies([{ name: "jarwatch-language", value: language, url: site.address }]);
			await page.goto(site.address + path);
			await keepShot(page, name.replace("-en-", `-${language}-`));
			expect(await page.locator("html").getAttribute("lang")).toBe(language);
			expect({ path, language, found: await foundByAxe(page) }).toEqual({ path, language, found: [] });
			expect({ path, language, small: await tooSmallToHit(page) }).toEqual({ path, language, small: [] });
			expect({ path, language, beyond: await beyondTheEdge(page, 200) }).toEqual({ path, language, beyond: 0 });
		}
		await page.context().clearCookies({ name: "jarwatch-language" });
	}

	async function aSample(): Promise<{ sample: string; household: string }> {
		const aims = { kind: "classify", targetShare: 0.9, lowerShare: 0.5, maximumAlpha: 0.2, maximumBeta: 0.2 } as const;
		const id = await site.world.the(Samples).draw({ areaCode: "A1", aims, method: { kind: "simple" }, auditorCodes: ["office"] });
		const [visit] = await site.world.store.query<{ code: string }>(
			"SELECT h.code FROM audit_visit v JOIN household h ON h.id = v.household_id WHERE v.sample_id = $1 ORDER BY v.place",
			[id],
		);
		return { sample: `/office/samples/${id}`, household: visit!.code };
	}

	it.each([
		["phone", PHONE],
		["desk", DESK],
	] as const)(
		"a supervisor sees every page in each direction at the width of a %s: axe finds nothing, all can be hit, and text grows to 200 %%",
		async (width, options) => {
			const page = await signedIn(options, "sup");
			for (const path of SUPERVISOR_PAGES) await lookedAt(page, path, `${path.slice(1).replaceAll("/", "-")}-en-${width}`);
			await page.context().close();
		},
		1_200_000,
	);

	it.each([
		["phone", PHONE],
		["desk", DESK],
	] as const)(
		"the health office sees every page in each direction at the width of a %s: axe finds nothing, all can be hit, and text grows to 200 %%",
		async (width, options) => {
			const page = await signedIn(options, "off");
			for (const path of OFFICE_PAGES)
				await lookedAt(page, path, `${path.slice(1).replace(/\?.*/, "").replaceAll("/", "-")}-en-${width}`);
			const { sample, household } = await aSample();
			await lookedAt(page, sample, `office-sample-en-${width}`);
			await lookedAt(page, `${sample}/visits/${household}`, `office-visit-en-${width}`);
			await page.context().close();
		},
		1_200_000,
	);

	it("the first administrator begins on this machine, sees every step, and axe finds nothing on the way in", async () => {
		const page = await (await browser.newContext(PHONE)).newPage();
		for (const path of ["/sign-in/staff", "/password", "/setting-up"])
			await lookedAt(page, path, `${path.slice(1).replace("/", "-")}-en-phone`);
		await page.goto(`${site.address}/setting-up`);
		await page.locator("#login").fill("chief");
		await page.locator("#password").fill("four quiet herons stand");
		await page.locator("main button").click();
		await page.waitForURL("**/setting-up");
		await page
			.locator("#file")
			.setInputFiles({ name: "areas.csv", mimeType: "text/csv", buffer: Buffer.from("code,name\nA7,Seven\n") });
		await page.locator("form[action$=import] button").click();
		expect(await page.locator("[role=alert]").textContent()).toContain("The file isn't right");
		expect(await foundByAxe(page)).toEqual([]);
		await keepShot(page, "setting-up-steps-en-phone");
		await page.context().close();
	}, 600_000);

	it("the health office enters what a visit found by keys alone: what is wrong is told, then it is kept", async () => {
		const page = await signedIn(DESK, "off");
		const { sample, household } = await aSample();
		await page.goto(`${site.address}${sample}/visits/${household}`);
		await page.locator("input[name=outcome]").first().focus();
		await page.keyboard.press("Space");
		await page.keyboard.press("Tab");
		await page.keyboard.type("some");
		await page.keyboard.press("Enter");
		// The browser itself asks for the time of day before anything is sent.
		expect(await page.locator("#at").evaluate((field) => (field as HTMLInputElement).validity.valueMissing)).toBe(true);
		await page.locator("#at").focus();
		await page.keyboard.type("1200AM");
		await page.locator("button.send").focus();
		await page.keyboard.press("Enter");
		await page.waitForSelector("#reading-wrong");
		expect(await page.locator("#reading").inputValue()).toBe("some");
		expect(await foundByAxe(page)).toEqual([]);
		await page.setViewportSize({ width: 360, height: 640 });
		expect(await beyondTheEdge(page, 200)).toBe(0);
		await keepShot(page, "office-visit-refused-en-phone");
		await page.locator("#reading").fill("0.4");
		// As if it had been drawn the day before: a visit comes after the draw.
		await site.world.store.work.run((tx) => tx.query("UPDATE audit_sample SET drawn_at_ms = drawn_at_ms - 86400000"));
		await page.locator("button.send").focus();
		await page.keyboard.press("Enter");
		await page.waitForURL("**is=kept**");
		expect(await page.locator(".told").first().textContent()).toContain(`Kept: what was found at ${household}.`);
		await page.context().close();
	}, 600_000);

	it("a supervisor gives a household by keys alone, then has a proposal worked out and accepts it, without a script", async () => {
		const page = await signedIn({ ...DESK, javaScriptEnabled: false }, "sup");
		await page.goto(`${site.address}/team/map?of=-`);
		const box = page.locator("input[name=pick]").first();
		await box.focus();
		await page.keyboard.press("Space");
		await page.locator("#to").focus();
		await page.keyboard.type("Invented Chausiku");
		await page.keyboard.press("Tab");
		await page.keyboard.press("Enter");
		await page.waitForURL("**done=1");
		expect(await page.locator(".told").textContent()).toContain("1 household changed hands");
		await page.goto(`${site.address}/team/proposals`);
		await page.locator("main form button").click();
		await page.waitForURL("**/team/proposals/*");
		for (let i = 0; (await page.locator("form[action$=accept]").count()) === 0; i++) {
			if (i > 100) throw new Error("no proposal was worked out");
			await page.waitForTimeout(200);
			await page.reload();
		}
		expect(await page.locator("h2").allTextContents()).toContain("What would change");
		await keepShot(page, "team-proposal-en-desk");
		await page.locator("form[action$=accept] button").click();
		await page.waitForURL("**moved=*");
		const [left] = await site.world.store.query<{ number: number }>(
			"SELECT COUNT(*) AS number FROM household WHERE volunteer_id IS NULL AND area_id = 'area'",
		);
		expect(Number(left!.number)).toBe(0);
		await page.context().close();
	}, 600_000);
});
