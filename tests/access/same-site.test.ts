import { formTokenOf } from "../../src/access/sessions.js";
import { type Accessible, accessible, type Browser } from "./people.js";

describe("a request that changes something", () => {
	let api: Accessible;
	let browser: Browser;
	const holidays = { body: { holidays: [] } };
	const put = (headers: Record<string, string>) => browser.ask("PUT", "/areas/A1/holidays", { ...holidays, headers });

	beforeAll(async () => {
		api = await accessible("sqlite");
		await api.account("anna", "sup");
		browser = api.browser();
		await browser.signIn("anna");
	}, 60_000);
	afterAll(() => api.close());

	it.each([
		["another site", { "sec-fetch-site": "cross-site" }],
		["a neighbour of the site", { "sec-fetch-site": "same-site" }],
		["another origin", { "sec-fetch-site": "", origin: "https://evil.example" }],
		["another port", { "sec-fetch-site": "", origin: "http://localhost:9999" }],
		["an origin that is hidden", { "sec-fetch-site": "", origin: "null" }],
		["an origin that only begins like ours", { "sec-fetch-site": "", origin: "http://localhost:80.evil.example" }],
	])("is refused with 403 where it comes from %s (ASVS 3.5.1)", async (_, given) => {
		const headers = Object.fromEntries(Object.entries(given).filter(([, value]) => value !== ""));
		const answer = await api.ask("PUT", "/areas/A1/holidays", {
			...holidays,
			headers: { authorization: "", cookie: `session=${browser.cookies.get("session")}`, ...headers },
		});
		expect([answer.status, answer.body.code]).toEqual([403, "not-allowed"]);
	});

	it("is taken from our own pages, by what the browser says of where it comes from", async () => {
		expect((await put({ "sec-fetch-site": "same-origin" })).status).toBe(200);
	});

	it("that says nothing of where it comes from needs the session's form token, and no other session's", async () => {
		const cookie = `session=${browser.cookies.get("session")}`;
		const asked = (token?: string) =>
			api.ask("PUT", "/areas/A1/holidays", {
				...holidays,
				headers: { authorization: "", cookie, ...(token !== undefined && { "x-form-token": token }) },
			});
		expect((await asked()).status).toBe(403);
		expect((await asked("")).status).toBe(403);
		expect((await asked(formTokenOf("another session"))).status).toBe(403);
		const { formToken } = (await browser.ask("GET", "/account")).body;
		expect(formToken).toBe(formTokenOf(browser.cookies.get("session")!));
		expect((await asked(formToken)).status).toBe(200);
	});

	it("is refused from another site also where the machine itself is trusted, and where somebody signs in", async () => {
		const local = await accessible("sqlite");
		try {
			const evil = { "sec-fetch-site": "cross-site" };
			expect((await local.ask("POST", "/sessions", { body: { login: "x", password: "y" }, headers: evil })).status).toBe(403);
			expect((await local.ask("POST", "/sign-in-codes", { body: { to: "+447700900002" }, headers: evil })).status).toBe(403);
			expect(await local.sent("signIn.code")).toEqual([]);
		} finally {
			await local.close();
		}
	});

	it("is none that only reads: no GET or HEAD of the interface writes anything into the ledger or the outbox", async () => {
		const before = await api.world.store.query("SELECT id FROM ledger_entry UNION ALL SELECT id FROM message");
		for (const { method, pattern } of api.routes.known.filter(({ method }) => method === "GET" || method === "HEAD"))
			if (!pattern.includes("*"))
				await browser.ask(method as "GET", pattern.replace(/:\w+/g, "A1"), { headers: { "sec-fetch-site": "cross-site" } });
		expect(await api.world.store.query("SELECT id FROM ledger_entry UNION ALL SELECT id FROM message")).toEqual(before);
	});
});
