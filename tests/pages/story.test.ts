// What is evaluated in a page is written for a browser.
/// <reference lib="dom" />
/// <reference lib="dom.iterable" />
import type { Browser, BrowserContextOptions, Page } from "playwright-core";
import { type Wire, wireTo } from "../support/wire.js";
import {
	beyondTheEdge,
	DESK,
	foundByAxe,
	inBrowser,
	keepShot,
	keepView,
	PHONE,
	startedBrowser,
	tooSmallToHit,
	waitUntilKept,
	withLetters,
} from "./browser.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

const PAGES = ["/me", "/me/doses", "/me/stock", "/me/answers"];

inBrowser("a volunteer in a browser", () => {
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

	const opened = async (options: BrowserContextOptions): Promise<Page> => (await browser.newContext(options)).newPage();

	/** Opens today's page as somebody who has signed in on this phone before. */
	async function signedIn(options: BrowserContextOptions): Promise<Page> {
		const page = await opened(options);
		const { secret } = await site.signedIn("vol");
		await page.context().addCookies([{ name: "session", value: secret, url: wire.address }]);
		await page.goto(`${wire.address}/me`);
		return page;
	}
	const testsOf = (taskId: string) => site.world.store.query("SELECT id FROM strength_test WHERE task_id = $1", [taskId]);
	const open = async (kind: string) => (await site.world.tasks()).filter((one) => one.kind === kind && one.state === "open");

	const codeSent = async (): Promise<string> => {
		const [sent] = await site.world.store.query<{ fill: string }>(
			"SELECT fill FROM message WHERE text = 'signIn.code' AND recipient_id = 'vol' ORDER BY created_at_ms DESC, id DESC LIMIT 1",
		);
		return JSON.parse(sent!.fill).oneTimeCode as string;
	};

	it.each([
		["phone", PHONE],
		["desk", DESK],
	] as const)(
		"gets in by the code that is sent to her, at the width of a %s, and axe finds nothing on the way",
		async (width, options) => {
			const page = await opened(options);
			await page.goto(`${wire.address}/`);
			expect(await foundByAxe(page)).toEqual([]);
			await keepShot(page, `sign-in-${width}`);
			await page.locator("#to").fill("+44 7700 900002");
			await page.locator("main button").click();
			expect(await foundByAxe(page)).toEqual([]);
			const code = await codeSent();
			await page.locator("#code").fill(code === "000000" ? "111111" : "000000");
			await page.locator("main button").click();
			expect(await page.locator("#wrong").textContent()).toContain("This code isn't right");
			expect(await foundByAxe(page)).toEqual([]);
			await keepShot(page, `code-${width}`);
			await page.locator("#code").fill(code);
			await page.locator("main button").click();
			await page.waitForURL("**/me");
			expect(await page.locator("h1").textContent()).toContain("Today");
			await page.context().close();
			site.world.clock.advance(3_600_000);
		},
		60_000,
	);

	it.each([
		["en", "phone", PHONE],
		["en", "desk", DESK],
		["ar", "phone", PHONE],
		["ar", "desk", DESK],
	] as const)(
		"sees every page in %s at the width of a %s: axe finds nothing, all can be hit, and text grows to 200 %%",
		async (language, width, options) => {
			const page = await signedIn(options);
			await page.locator("#language").selectOption(language);
			await page.locator(".languages button").click();
			expect(await page.locator("html").getAttribute("dir")).toBe(language === "ar" ? "rtl" : "ltr");
			for (const path of PAGES) {
				await page.goto(wire.address + path);
				await keepShot(page, `${path.slice(1).replace("/", "-")}-${language}-${width}`);
				if (path === "/me") await keepView(page, `today-${language}-${width}`);
				expect({ path, found: await foundByAxe(page) }).toEqual({ path, found: [] });
				expect({ path, small: await tooSmallToHit(page) }).toEqual({ path, small: [] });
				expect({ path, beyond: await beyondTheEdge(page, 200) }).toEqual({ path, beyond: 0 });
				if (path === "/me")
					await withLetters(page, 200, async () => {
						expect({ path, found: await foundByAxe(page) }).toEqual({ path, found: [] });
						await keepView(page, `${path.slice(1)}-${language}-${width}-200-percent`);
					});
			}
			await page.context().close();
		},
		120_000,
	);

	it("answers by keys alone, and is told today's dose", async () => {
		const [task] = await open("retest stored bleach");
		const page = await signedIn(PHONE);
		const field = page.locator(`#r-${task!.id}`);
		for (let i = 0; i < 40 && !(await field.evaluate((one) => one === document.activeElement)); i++)
			await page.keyboard.press("Tab");
		await page.keyboard.type("3");
		await page.keyboard.press("Enter");
		await page.waitForURL("**/me/tasks/*");
		expect(await page.locator(".told").textContent()).toMatch(/Dose clear\/cloudy water: 20 L \d/);
		expect(await foundByAxe(page)).toEqual([]);
		await keepShot(page, "told-en-phone");
		expect(await testsOf(task!.id)).toHaveLength(1);
		await page.context().close();
	}, 60_000);

	it("does the same without a script", async () => {
		const [task] = await open("clean container");
		const page = await signedIn({ ...PHONE, javaScriptEnabled: false });
		const job = page.locator(`#t-${task!.id}`);
		await job.locator("summary").first().click();
		await job.locator("button[value=done]").click();
		await page.waitForURL("**/me/tasks/*");
		expect(await page.locator(".told").textContent()).toContain("noted as clean");
		await page.context().close();
	}, 60_000);

	it("opens her pages without a network, answers, and each answer is sent once when it is back; one to a task closed meanwhile is shown as such", async () => {
		const [first, second] = await open("check water");
		const page = await signedIn(PHONE);
		await waitUntilKept(page);
		wire.cut();
		await page.context().setOffline(true);
		for (const path of PAGES) {
			await page.goto(wire.address + path);
			expect(await page.locator("h1").count()).toBe(1);
		}
		await page.goto(`${wire.address}/me`);
		expect(await page.locator("#line").isVisible()).toBe(true);
		for (const { id } of [first!, second!]) {
			const job = page.locator(`#t-${id}`);
			if (!(await job.getAttribute("open").then((value) => value !== null))) await job.locator("summary").first().click();
			await job.locator("input[name=reading]").fill("0.5");
			await job.locator("button[value=reading]").click();
			await page.waitForFunction((n) => document.querySelectorAll("#unsent li").length === n, id === first!.id ? 1 : 2);
		}
		expect(await page.locator("#unsent").textContent()).toContain("waits for the network");
		expect(await foundByAxe(page)).toEqual([]);
		await keepShot(page, "unsent-en-phone");
		await site.world.answers.take(second!.id, { kind: "cannot" }, null);
		wire.mend();
		await page.context().setOffline(false);
		await page.waitForFunction(() => document.querySelectorAll("#unsent button").length === 2);
		expect(await page.locator("#unsent .taken").textContent()).toContain("0.5 mg/L, fit to drink");
		expect(await page.locator("#unsent .returned").textContent()).toContain("was closed before your answer came");
		expect(await foundByAxe(page)).toEqual([]);
		await keepShot(page, "closed-meanwhile-en-phone");
		expect(await site.world.store.query("SELECT id FROM residual_check")).toHaveLength(1);
		for (const left of [1, 0]) {
			await page.locator("#unsent button").first().click();
			await page.waitForFunction((n) => document.querySelectorAll("#unsent li").length === n, left);
		}
		expect(await page.locator("#unsent").isVisible()).toBe(false);
		await page.context().close();
	}, 90_000);

	it("leaves nothing in the phone when she signs out", async () => {
		const page = await signedIn(PHONE);
		await waitUntilKept(page);
		await page.locator("form[data-leaving] button").click();
		await page.waitForURL("**/sign-in");
		expect(await page.evaluate(async () => [(await caches.keys()).length, (await indexedDB.databases()).length])).toEqual([0, 0]);
		await page.goto(`${wire.address}/me`);
		expect(new URL(page.url()).pathname).toBe("/sign-in");
		await page.context().close();
	}, 60_000);
});
