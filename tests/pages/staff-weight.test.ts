import type { Browser } from "playwright-core";
import { type Wire, wireTo } from "../support/wire.js";
import { DESK, inBrowser, startedBrowser } from "./browser.js";
import { putDistrict } from "./district.js";
import { putIncident, putWork, type ServedSite, servedSite } from "./site.js";

/** A page with style, script and picture, and the page again. Own choice, beside a volunteer's 50 and 10 kB; no source. */
const FIRST_BYTES = 25_000;
const AFTER_BYTES = 12_000;

inBrowser("pages of those who lead", () => {
	let site: ServedSite;
	let wire: Wire;
	let browser: Browser;
	beforeAll(async () => {
		site = await servedSite("sqlite");
		await putWork(site.world);
		await putDistrict(site.world);
		await putIncident(site.world, "weighed");
		wire = await wireTo(site.address);
		browser = await startedBrowser();
	}, 300_000);
	afterAll(async () => {
		await browser?.close();
		await wire?.close();
		await site?.close();
	});

	/** Bytes on the wire with all header fields, of a browser that has seen nothing yet, and of the same one again. */
	async function weighed(personId: string, path: string): Promise<{ readonly first: number; readonly after: number }> {
		const context = await browser.newContext(DESK);
		const { secret } = await site.signedIn(personId);
		await context.addCookies([{ name: "session", value: secret, url: wire.address }]);
		const page = await context.newPage();
		wire.receivedBytes();
		await page.goto(wire.address + path, { waitUntil: "networkidle" });
		const first = wire.receivedBytes();
		await page.goto(wire.address + path, { waitUntil: "networkidle" });
		const after = wire.receivedBytes();
		await context.close();
		return { first, after };
	}

	it.each([
		["sup", "/team"],
		["sup", "/team/map"],
		["sup", "/team/people/amina"],
		["sup", "/team/proposals"],
		["sup", "/team/incidents/incident-weighed"],
		["sup", "/team/plan"],
		["sup", "/team/jars"],
		["sup", "/team/jars/FIG-J12"],
		["off", "/office"],
		["off", "/office/trends"],
		["off", "/office/failures"],
		["off", "/office/checks"],
		["off", "/office/samples"],
	])(
		"weigh under 25 kB at the first visit and 12 kB after it: %s on %s",
		async (personId, path) => {
			const { first, after } = await weighed(personId, path);
			console.log(`${path}: ${first} bytes at the first visit, ${after} after it`);
			expect(first).toBeLessThan(FIRST_BYTES);
			expect(after).toBeLessThan(AFTER_BYTES);
			// Nothing is kept that ought to be asked for again, and the style isn't sent twice.
			expect(after).toBeLessThan(first);
		},
		60_000,
	);
});
