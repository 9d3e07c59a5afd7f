// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
/// <reference lib="dom.iterable" />
import { mkdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type axe from "axe-core";
import { type Browser, type BrowserContextOptions, chromium, type Page } from "playwright-core";

const isHere = (JSON.parse(process.env["JARWATCH_TEST_FOUND"] ?? "{}") as { chromium?: boolean }).chromium === true;

/** Where no browser is, the run has said so loudly and these tests are left out; where it is required, it has stopped. */
export const inBrowser = isHere ? describe : describe.skip;

export const PHONE: BrowserContextOptions = { viewport: { width: 360, height: 640 }, hasTouch: true, isMobile: true };
export const DESK: BrowserContextOptions = { viewport: { width: 1280, height: 800 } };

/** Network of a phone at the edge of what 2G reaches: the figures that Chromium's own tools have had as "Regular 2G". */
export const ON_2G = { offline: false, latency: 300, downloadThroughput: 250_000 / 8, uploadThroughput: 50_000 / 8 };
export const SLOWER_BY = 4;

export function startedBrowser(): Promise<Browser> {
	return chromium.launch({
		executablePath: process.env["JARWATCH_TEST_CHROMIUM"] ?? "/usr/bin/chromium",
		args: ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-gpu"],
	});
}

const AXE = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const FOLDER = join(__dirname, "../../test-artefacts/pages");

/** Keeps what is shown, to be looked at. */
export async function keepShot(page: Page, name: string): Promise<void> {
	mkdirSync(FOLDER, { recursive: true });
	// What is fixed to the edge would lie over the middle of a long page.
	await page.evaluate(() => document.querySelector<HTMLElement>(".ways")?.style.setProperty("position", "static"));
	await page.screenshot({ path: join(FOLDER, `${name}.png`), fullPage: true });
	await page.evaluate(() => document.querySelector<HTMLElement>(".ways")?.style.removeProperty("position"));
}

/** The same of what stands in the window. */
export async function keepView(page: Page, name: string): Promise<void> {
	mkdirSync(FOLDER, { recursive: true });
	await page.screenshot({ path: join(FOLDER, `${name}.png`) });
}

/** What axe finds on a page: WCAG 2.2 A and AA, good practice, and the contrast of 7 to 1 that is read in the sun (WCAG 2.2, 1.4.6). */
export async function foundByAxe(page: Page): Promise<string[]> {
	await page.evaluate(AXE);
	const { violations } = await page.evaluate(() =>
		(window as unknown as { axe: typeof axe }).axe.run(document, {
			runOnly: { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] },
			rules: { "color-contrast-enhanced": { enabled: true } },
		}),
	);
	return violations.flatMap(({ id, nodes }) => nodes.map(({ html, failureSummary }) => `${id}: ${html} ${failureSummary}`));
}

/** @returns what can be hit and is smaller than 44 px either way but for links within a text. Source: WCAG 2.2, 2.5.5 (AAA) */
export function tooSmallToHit(page: Page): Promise<string[]> {
	return page.evaluate(() =>
		[...document.querySelectorAll<HTMLElement>("a, button, summary, select, input:not([type=hidden])")].flatMap((one) => {
			const target = one.closest("label") ?? one;
			const { width, height } = target.getBoundingClientRect();
			const isWithinText = one.matches("p a, .skip, .state a") || width === 0;
			return isWithinText || (width >= 44 && height >= 44) ? [] : [`${one.outerHTML.slice(0, 80)} ${width} x ${height}`];
		}),
	);
}

/** Does something while the phone's letters are set to so many percent of the usual ones. */
export async function withLetters<T>(page: Page, percent: number, act: () => Promise<T>): Promise<T> {
	const phone = await page.context().newCDPSession(page);
	const set = (size: number) => phone.send("Page.setFontSizes", { fontSizes: { standard: size, fixed: size } });
	await set((16 * percent) / 100);
	try {
		return await act();
	} finally {
		await set(16);
		await phone.detach();
	}
}

/** @returns how far a page reaches beyond the window sideways with such letters and everything unfolded, px */
export function beyondTheEdge(page: Page, percent: number): Promise<number> {
	return withLetters(page, percent, () =>
		page.evaluate(() => {
			for (const folded of document.querySelectorAll("details")) folded.open = true;
			const { scrollWidth, clientWidth } = document.documentElement;
			return scrollWidth - clientWidth;
		}),
	);
}

/** Waits until the phone keeps her pages, so that they open without a network. */
export async function waitUntilKept(page: Page): Promise<void> {
	const isKept = () =>
		page.evaluate(async () => {
			const pages = await caches.open("jarwatch-pages");
			return (await pages.keys()).length >= 4 && navigator.serviceWorker.controller !== null;
		});
	for (let i = 0; !(await isKept()); i++) {
		if (i > 200) throw new Error("her pages weren't kept");
		await page.waitForTimeout(100);
	}
}
