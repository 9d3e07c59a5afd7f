import { ALLOWED } from "../../src/access/throttle.js";
import { HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { type Accessible, accessible } from "./people.js";

const WRONG = "not the right password";

onEachDatabase("trying again and again", (kind) => {
	let api: Accessible;
	beforeEach(async () => {
		api = await accessible(kind);
		await api.account("anna", "sup");
	}, 60_000);
	afterEach(() => api.close());

	it("from one address is looked at ten times in 15 minutes for one account, and told when to come again", async () => {
		const stranger = api.browser("198.51.100.7");
		for (let i = 0; i < 10; i++) expect((await stranger.signIn("anna", WRONG)).status).toBe(401);
		const refused = await stranger.signIn("anna");
		expect([refused.status, refused.body.code, Number(refused.headers["retry-after"])]).toEqual([429, "too-many-tries", 900]);
		api.world.clock.advance(15 * MINUTE_MS + 1000);
		expect((await stranger.signIn("anna")).status).toBe(201);
	});

	it("doesn't lock the holder out: with a thousand guesses from 200 addresses, 50 are looked at, and she comes in from her own device", async () => {
		const hers = api.browser("203.0.113.5");
		expect((await hers.signIn("anna")).status).toBe(201);
		let lookedAt = 0;
		for (let i = 0; i < 1000; i += 20) {
			const batch = Array.from({ length: 20 }, (_, j) => api.browser(`198.51.100.${(i + j) % 200}`).signIn("anna", WRONG));
			for (const { status } of await Promise.all(batch)) if (status === 401) lookedAt++;
		}
		expect(lookedAt).toBe(ALLOWED.strangers.most);
		expect((await hers.signIn("anna", WRONG)).status).toBe(401);
		expect((await hers.signIn("anna")).status).toBe(201);
	}, 120_000);

	it("doesn't lock the holder out of a new device for good: an hour later, or by a new password at once in the old one", async () => {
		for (let i = 0; i < 60; i++) await api.browser(`198.51.100.${i}`).signIn("anna", WRONG);
		const fresh = api.browser("203.0.113.9");
		expect((await fresh.signIn("anna")).status).toBe(429);
		await fresh.ask("POST", "/password/forgotten", { body: { login: "anna" } });
		const [{ way } = {}] = await api.sent("signIn.password");
		const next = "nine buckets at the well";
		expect((await fresh.ask("POST", "/password", { body: { code: way, password: next } })).status).toBe(200);
		expect((await fresh.signIn("anna", next)).status).toBe(201);
		api.world.clock.advance(HOUR_MS + 1000);
		expect((await api.browser("203.0.113.10").signIn("anna", next)).status).toBe(201);
	}, 60_000);

	it("counts tries that come all at once before it looks at any", async () => {
		const stranger = api.browser("198.51.100.7");
		const answers = await Promise.all(Array.from({ length: 40 }, () => stranger.signIn("anna", WRONG)));
		expect(answers.filter(({ status }) => status === 401)).toHaveLength(10);
	});

	it("of many accounts from one address ends after 60 in 15 minutes, and what was right isn't counted", async () => {
		const stranger = api.browser("198.51.100.7");
		for (let i = 0; i < 60; i++) await stranger.signIn(`nobody-${i}`, WRONG);
		expect((await stranger.signIn("nobody-60", WRONG)).status).toBe(429);
		const office = "203.0.113.5";
		for (let i = 0; i < 20; i++) expect((await api.browser(office).signIn("anna")).status).toBe(201);
	}, 60_000);

	it("keeps no address and no login that was tried", async () => {
		await api.browser("198.51.100.7").signIn("somebody-else", WRONG);
		const kept = JSON.stringify(await api.world.store.query("SELECT * FROM throttle"));
		expect(kept).not.toContain("198.51.100.7");
		expect(kept).not.toContain("somebody-else");
	});

	it("of one's own password beside a session is slowed down too", async () => {
		const browser = api.browser();
		await browser.signIn("anna");
		const tried = () =>
			browser.ask("POST", "/account/password", { body: { password: WRONG, newPassword: "nine buckets at the well" } });
		for (let i = 0; i < 10; i++) expect((await tried()).status).toBe(403);
		expect((await tried()).status).toBe(429);
	});
});
