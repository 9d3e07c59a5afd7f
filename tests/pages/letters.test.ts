// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
import type { Browser, Page } from "playwright-core";
import { pageTexts } from "../../src/pages/texts.js";
import { DESK, inBrowser, PHONE, startedBrowser, withLetters } from "./browser.js";
import { type Look, putOneOfEach } from "./one-of-each.js";
import { type ServedSite, servedSite } from "./site.js";

/** Letters are at least so high, px; common practice, no source. */
const LEAST_PX = 12;

/** Words of a picture as they are shown. */
interface Shown {
	readonly words: string;
	readonly px: number;
	/** Of the letters alone: without the room above and below that a line has. */
	readonly box: { readonly left: number; readonly top: number; readonly right: number; readonly bottom: number };
	/** Of the whole picture. */
	readonly within: Shown["box"];
}

inBrowser("letters in charts and maps", () => {
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

	/** @returns for each picture of a page, its words */
	function picturesOn(page: Page): Promise<Shown[][]> {
		return page.evaluate(() => {
			for (const folded of document.querySelectorAll("details")) folded.open = true;
			const boxOf = ({ left, top, right, bottom }: DOMRect, lead: number) => {
				const less = (bottom - top) * lead;
				return { left, top: top + less, right, bottom: bottom - less };
			};
			return [...document.querySelectorAll<SVGSVGElement>("main svg")]
				.map((svg) =>
					[...svg.querySelectorAll("text")].map((text) => ({
						words: text.textContent ?? "",
						px: Number.parseFloat(getComputedStyle(text).fontSize) * (text.getScreenCTM()?.a ?? 0),
						box: boxOf(text.getBoundingClientRect(), 0.15),
						within: boxOf(svg.getBoundingClientRect(), 0),
					})),
				)
				.filter((texts) => texts.length > 0);
		});
	}

	/** @returns what of a picture can't be read: too small, cut off, or under other words */
	function unreadable(shown: readonly Shown[], leastPx: number): string[] {
		return shown.flatMap(({ words, px, box, within }, i) => {
			const over = shown
				.slice(i + 1)
				.filter(
					(other) =>
						box.left < other.box.right && other.box.left < box.right && box.top < other.box.bottom && other.box.top < box.bottom,
				);
			const isCut =
				box.left < within.left - 0.5 ||
				box.right > within.right + 0.5 ||
				box.top < within.top - 0.5 ||
				box.bottom > within.bottom + 0.5;
			return [
				...(px < leastPx ? [`"${words}" is ${px.toFixed(1)} px high`] : []),
				...(isCut ? [`"${words}" is cut off`] : []),
				...over.map((other) => `"${words}" lies over "${other.words}"`),
			];
		});
	}

	async function signedIn(by: string, options: typeof PHONE): Promise<{ page: Page; cookie: string }> {
		const context = await browser.newContext(options);
		const { secret, cookie } = await site.signedIn(by);
		await context.addCookies([{ name: "session", value: secret, url: site.address }]);
		return { page: await context.newPage(), cookie };
	}

	/** @returns pages that show a picture with words in it */
	async function drawnFor(by: string, cookie: string): Promise<Look[]> {
		const drawn: Look[] = [];
		for (const look of looks.filter((one) => one.by === by))
			if (/<text\b/.test((await site.shown(look.at, { cookie })).text)) drawn.push(look);
		return drawn;
	}

	it.each([
		["phone of 360 px", PHONE],
		["desk of 1,280 px", DESK],
	] as const)(
		"are 12 px high or more at the width of a %s, on every page in every language, none cut off and none over another",
		async (_, options) => {
			const seen = new Set<string>();
			for (const by of ["vol", "sup", "off"] as const) {
				const { page, cookie } = await signedIn(by, options);
				const drawn = await drawnFor(by, cookie);
				for (const language of pageTexts.languages) {
					await page.context().addCookies([{ name: "jarwatch-language", value: language, url: site.address }]);
					for (const { path, at } of drawn) {
						await page.goto(site.address + at);
						for (const shown of await picturesOn(page)) {
							seen.add(path);
							expect({ at, language, unreadable: unreadable(shown, LEAST_PX) }).toEqual({ at, language, unreadable: [] });
						}
					}
				}
				await page.context().close();
			}
			expect([...seen].sort()).toEqual(["/me/doses", "/office", "/office/trends", "/team/jars/:code", "/team/map"]);
		},
		600_000,
	);

	it.each([
		["phone of 360 px", PHONE],
		["desk of 1,280 px", DESK],
	] as const)(
		"are 12 px high or more in the month's report at the width of a %s, none cut off and none over another",
		async (_, options) => {
			const { page } = await signedIn("off", options);
			await page.goto(`${site.address}/reports/monthly.html?area=A1&month=2026-03`);
			const pictures = await picturesOn(page);
			expect(pictures.length).toBeGreaterThan(3);
			expect(pictures.flatMap((shown) => unreadable(shown, LEAST_PX))).toEqual([]);
			expect(await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)).toBe(0);
			await page.context().close();
		},
		120_000,
	);

	it("grow to twice their height where the phone's letters do, in a box that moves sideways by keys, and the page stays within its width", async () => {
		const { page } = await signedIn("sup", PHONE);
		await withLetters(page, 200, async () => {
			await page.goto(`${site.address}/team/jars/FIG-J12`);
			const [shown = []] = await picturesOn(page);
			expect(shown.length).toBeGreaterThan(10);
			expect(unreadable(shown, 2 * LEAST_PX)).toEqual([]);
			const drawing = page.locator(".drawing");
			await drawing.focus();
			await page.keyboard.press("ArrowRight");
			await page.waitForFunction(() => document.querySelector(".drawing")!.scrollLeft > 0);
			expect(await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)).toBe(0);
		});
		await page.context().close();
	}, 120_000);
});
