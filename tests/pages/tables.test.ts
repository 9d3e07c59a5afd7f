// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
import type { Browser, BrowserContextOptions, Page } from "playwright-core";
import { pageTexts } from "../../src/pages/texts.js";
import { DESK, inBrowser, PHONE, startedBrowser } from "./browser.js";
import { type Look, putOneOfEach } from "./one-of-each.js";
import { type ServedSite, servedSite } from "./site.js";

/** A row with more lines than this is a column of single words; common practice, no source. */
const MOST_LINES = 6;

inBrowser("tables and notices", () => {
	let site: ServedSite;
	let browser: Browser;
	let looks: readonly Look[] = [];
	beforeAll(async () => {
		site = await servedSite("sqlite");
		looks = await putOneOfEach(site);
		browser = await startedBrowser();
	}, 120_000);
	afterAll(async () => {
		await browser?.close();
		await site?.close();
	});

	async function opened(options: BrowserContextOptions, secret?: string): Promise<Page> {
		const context = await browser.newContext(options);
		if (secret) await context.addCookies([{ name: "session", value: secret, url: site.address }]);
		return context.newPage();
	}

	/** @returns how many tables a page has, and what of them can't be read without effort */
	function tablesOn(page: Page, mostLines: number): Promise<{ tables: number; bad: string[] }> {
		return page.evaluate((most) => {
			const all = [...document.querySelectorAll("table")];
			const bad = all.flatMap((table) => {
				const box = table.closest(".scroll")!.getBoundingClientRect();
				const caption = table.querySelector("caption span")!;
				const { left, right } = caption.getBoundingClientRect();
				const linePx = Number.parseFloat(getComputedStyle(table).lineHeight);
				const high = [...table.querySelectorAll("tr")].filter((row) => row.getBoundingClientRect().height > most * linePx + 20);
				const wide = [...table.querySelectorAll("th, td")].filter(
					({ scrollWidth, clientWidth }) => scrollWidth > clientWidth + 1,
				);
				return [
					...wide.map((cell) => `runs into the next cell: ${cell.textContent}`),
					...(left < box.left - 0.5 || right > box.right + 0.5 ? [`cut off: ${caption.textContent}`] : []),
					...high.map((row) => `${Math.round(row.getBoundingClientRect().height)} px high: ${row.textContent?.slice(0, 60)}`),
				];
			});
			return { tables: all.length, bad };
		}, mostLines);
	}

	it("name each table in sight at the width of a phone, and have no row of more than six lines, on every page of those who lead", async () => {
		let tables = 0;
		for (const by of ["sup", "off"] as const) {
			const { secret } = await site.signedIn(by);
			const page = await opened(PHONE, secret);
			for (const language of ["fr", "ar"]) {
				await page.context().addCookies([{ name: "jarwatch-language", value: language, url: site.address }]);
				for (const { at } of looks.filter((one) => one.by === by)) {
					await page.goto(site.address + at);
					const found = await tablesOn(page, MOST_LINES);
					tables += found.tables;
					expect({ at, language, bad: found.bad }).toEqual({ at, language, bad: [] });
				}
			}
			await page.context().close();
		}
		expect(tables).toBeGreaterThan(20);
	}, 300_000);

	it("leave the ways about in one row at the width of a phone, whichever of them is marked, in every language", async () => {
		for (const by of ["vol", "sup", "off"] as const) {
			const { secret } = await site.signedIn(by);
			const page = await opened(PHONE, secret);
			for (const language of pageTexts.languages) {
				await page.context().addCookies([{ name: "jarwatch-language", value: language, url: site.address }]);
				await page.goto(site.address + looks.find((one) => one.by === by)!.at);
				const ways = await page.locator(".ways a").evaluateAll((all) => all.map((way) => way.getAttribute("href")!));
				expect(ways.length).toBeGreaterThan(3);
				for (const way of ways) {
					await page.goto(site.address + way);
					const tops = await page
						.locator(".ways li")
						.evaluateAll((all) => all.map((one) => Math.round(one.getBoundingClientRect().top)));
					expect({ way, language, rows: new Set(tops).size }).toEqual({ way, language, rows: 1 });
				}
			}
			await page.context().close();
		}
	}, 300_000);

	it("keep the name of a table in sight while it moves sideways by keys", async () => {
		const { secret } = await site.signedIn("off");
		const page = await opened(PHONE, secret);
		await page.goto(`${site.address}/office`);
		const scroll = page.locator(".scroll").first();
		await scroll.focus();
		for (let i = 0; i < 5; i++) await page.keyboard.press("ArrowRight");
		await page.waitForFunction(() => document.querySelector(".scroll")!.scrollLeft > 20);
		expect((await tablesOn(page, MOST_LINES)).bad).toEqual([]);
		await page.context().close();
	}, 60_000);

	it("tell what is wrong with a file in rows of six lines at most, at the width of a phone", async () => {
		const page = await opened(PHONE);
		await page.goto(`${site.address}/setting-up`);
		await page.locator("#login").fill("chief");
		await page.locator("#password").fill("four quiet herons stand");
		await page.locator("main button").click();
		await page.waitForURL("**/setting-up");
		await page.context().addCookies([{ name: "jarwatch-language", value: "fr", url: site.address }]);
		await page.goto(`${site.address}/setting-up`);
		await page
			.locator("#file")
			.setInputFiles({ name: "areas.csv", mimeType: "text/csv", buffer: Buffer.from("code,name\nA7,Seven\n") });
		await page.locator("form[action$=import] button").click();
		await page.waitForSelector("[role=alert]");
		const { tables, bad } = await tablesOn(page, MOST_LINES);
		expect([tables, bad]).toEqual([2, []]);
		await page.context().close();
	}, 120_000);

	it("begin a notice where the lines above and below it begin, at a desk too, either way", async () => {
		const { secret } = await site.signedIn("off");
		const page = await opened(DESK, secret);
		for (const language of ["en", "ar"]) {
			await page.context().addCookies([{ name: "jarwatch-language", value: language, url: site.address }]);
			await page.goto(`${site.address}/office/checks`);
			const [notice, heading] = await page.evaluate((isFromRight) => {
				const edge = (what: string) => {
					const { left, right } = document.querySelector(what)!.getBoundingClientRect();
					return Math.round(isFromRight ? right : left);
				};
				return [edge("main .told"), edge("main h2")];
			}, language === "ar");
			expect({ language, notice }).toEqual({ language, notice: heading });
		}
		await page.context().close();
	}, 60_000);
});
