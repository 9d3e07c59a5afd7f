// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
import type { Browser, Page } from "playwright-core";
import { type TileServer, tileServer } from "../support/tile-server.js";
import { DESK, foundByAxe, inBrowser, keepShot, PHONE, startedBrowser } from "./browser.js";
import { putDistrict } from "./district.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

inBrowser("maps with tiles from another machine", () => {
	let site: ServedSite;
	let ground: TileServer;
	let browser: Browser;
	beforeAll(async () => {
		ground = await tileServer();
		site = await servedSite("sqlite", {}, { mapTiles: ground.tiles });
		await putWork(site.world);
		await putDistrict(site.world);
		browser = await startedBrowser();
	}, 120_000);
	afterAll(async () => {
		await browser?.close();
		await site?.close();
		await ground?.close();
	});

	async function signedIn(personId: string, options = DESK): Promise<{ readonly page: Page; readonly refused: string[] }> {
		const context = await browser.newContext(options);
		const { secret } = await site.signedIn(personId);
		await context.addCookies([{ name: "session", value: secret, url: site.address }]);
		const page = await context.newPage();
		const refused: string[] = [];
		page.on("console", (line) => {
			if (/Content Security Policy/.test(line.text())) refused.push(line.text());
		});
		return { page, refused };
	}
	const policyOf = async (path: string, cookie: string) =>
		(await fetch(site.address + path, { headers: { cookie } })).headers.get("content-security-policy");

	it.each([
		["sup", "/team/map", PHONE],
		["off", "/office", DESK],
	] as const)(
		"load them for %s on %s, say who made them, and tell that machine no address of ours",
		async (personId, path, options) => {
			const { page, refused } = await signedIn(personId, options);
			const before = ground.asked.length;
			await page.goto(site.address + path, { waitUntil: "networkidle" });
			const hrefs = await page
				.locator("svg.map svg.tiles image")
				.evaluateAll((all) => all.map((one) => one.getAttribute("href")!));
			expect(hrefs.length).toBeGreaterThan(0);
			const asked = ground.asked.slice(before);
			// Nothing stands behind a path: no page of ours is named as where the question came from.
			expect(asked.map((one) => `${ground.tiles.origin}${one}`).sort()).toEqual([...hrefs].sort());
			expect(refused).toEqual([]);
			expect(await page.locator("figcaption").textContent()).toContain("Invented ground, made for a test");
			expect(await foundByAxe(page)).toEqual([]);
			await keepShot(page, `${path.slice(1).replace("/", "-")}-tiles`);
			await page.context().close();
		},
		300_000,
	);

	it("let pictures in from that origin alone, and only where a map is", async () => {
		const { cookie } = await site.signedIn("sup");
		expect(await policyOf("/team/map", cookie)).toContain(`img-src 'self' ${ground.tiles.origin};`);
		expect(await policyOf("/team", cookie)).toContain("img-src 'self';");
		const other = await tileServer();
		try {
			const { page, refused } = await signedIn("sup");
			await page.goto(`${site.address}/team/map`);
			const outcome = await page.evaluate(
				(src) =>
					new Promise<string>((resolve) => {
						const image = new Image();
						image.onload = () => resolve("loaded");
						image.onerror = () => resolve("refused");
						image.src = src;
					}),
				`${other.tiles.origin}/t/1/0/0.svg`,
			);
			expect([outcome, other.asked.length, refused.length]).toEqual(["refused", 0, 1]);
			await page.context().close();
		} finally {
			await other.close();
		}
	}, 300_000);

	it("are whole where the tiles stay away: every place, the scale and the legend, and axe finds nothing", async () => {
		ground.fail();
		const { page } = await signedIn("sup");
		await page.goto(`${site.address}/team/map`, { waitUntil: "networkidle" });
		const drawn = await page.locator("svg.map").evaluate((map) => ({
			homes: map.querySelectorAll(":scope > circle").length,
			words: map.querySelectorAll(":scope > text").length,
		}));
		// 33 of the 34 households have a place, and one stands in the legend.
		expect(drawn.homes).toBeGreaterThan(20);
		expect(drawn.words).toBeGreaterThan(4);
		expect(await foundByAxe(page)).toEqual([]);
		await keepShot(page, "team-map-tiles-away");
		await page.context().close();
	}, 300_000);
});
