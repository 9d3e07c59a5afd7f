import { TOTP } from "otpauth";
import { MINUTE_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { type Accessible, accessible, PASSWORD } from "./people.js";

onEachDatabase("signing in", (kind) => {
	let api: Accessible;
	beforeEach(async () => {
		api = await accessible(kind);
	}, 60_000);
	afterEach(() => api.close());

	it("begins a session by the right password, and tells a wrong one, a wrong login and a closed account alike", async () => {
		const id = await api.account("anna", "sup");
		const browser = api.browser();
		const wrong = await browser.signIn("anna", "five jars in the sun");
		const nobody = await browser.signIn("nobody");
		expect([wrong.status, wrong.body.code]).toEqual([401, "sign-in-refused"]);
		expect({ ...nobody.body, instance: "" }).toEqual({ ...wrong.body, instance: "" });
		expect((await browser.signIn("Anna ")).status).toBe(201);
		const me = await browser.ask("GET", "/account");
		expect(me.body).toMatchObject({ personCode: "sup", login: "anna", roles: ["supervisor"], areaCodes: ["A1"] });
		await api.account("root", null, true);
		expect((await api.ask("POST", `/accounts/${id}/state`, { body: { isActive: false } })).status).toBe(200);
		expect((await browser.ask("GET", "/account")).status).toBe(401);
		expect({ ...(await browser.signIn("anna")).body, instance: "" }).toEqual({ ...wrong.body, instance: "" });
	});

	it("gives a cookie that is Secure, HttpOnly, SameSite and of this host alone; over plain HTTP only this machine keeps one", async () => {
		await api.account("anna", "sup");
		const there = await api.ask("POST", "/sessions", {
			body: { login: "anna", password: PASSWORD },
			headers: { host: "jars.example.org", "sec-fetch-site": "same-origin" },
		});
		const cookies = there.headers["set-cookie"] as string[];
		expect(cookies[0]).toMatch(/^__Host-session=[\w-]{43}; Path=\/; Max-Age=43200; HttpOnly; SameSite=Lax; Secure$/);
		expect(cookies[1]).toMatch(/^__Host-device=[\w-]{43}; Path=\/; Max-Age=34560000; HttpOnly; SameSite=Lax; Secure$/);
		const here = await api.ask("POST", "/sessions", { body: { login: "anna", password: PASSWORD } });
		expect((here.headers["set-cookie"] as string[])[0]).toMatch(
			/^session=[\w-]{43}; Path=\/; Max-Age=43200; HttpOnly; SameSite=Lax$/,
		);
		const secret = /=([\w-]{43})/.exec(cookies[0]!)![1]!;
		const plain = await api.ask("GET", "/account", {
			headers: { authorization: "", host: "jars.example.org", cookie: `session=${secret}` },
		});
		expect(plain.status).toBe(401);
	});

	it("begins a new session each time, whatever cookie the browser brings, and keeps nothing of it but its hash", async () => {
		await api.account("anna", "sup");
		const browser = api.browser();
		browser.cookies.set("session", "a".repeat(43));
		await browser.signIn("anna");
		const first = browser.cookies.get("session")!;
		await browser.signIn("anna");
		const second = browser.cookies.get("session")!;
		expect(new Set(["a".repeat(43), first, second]).size).toBe(3);
		const kept = JSON.stringify(await api.world.store.query("SELECT * FROM session"));
		expect(kept).not.toContain(first);
		expect(kept).not.toContain(second);
	});

	it("ends a session of staff after 30 minutes without use and after 12 hours at the latest; a volunteer's after 30 and 90 days", async () => {
		await api.account("anna", "sup");
		const { clock } = api.world;
		const isIn = async (browser: { ask: Accessible["ask"] }) => (await browser.ask("GET", "/account")).status === 200;
		const staff = api.browser() as unknown as { ask: Accessible["ask"]; signIn(login: string): Promise<unknown> };
		await staff.signIn("anna");
		clock.advance(29 * MINUTE_MS);
		expect(await isIn(staff)).toBe(true);
		clock.advance(31 * MINUTE_MS);
		expect(await isIn(staff)).toBe(false);
		await staff.signIn("anna");
		for (let minutes = 0; minutes < 12 * 60 - 20; minutes += 20) {
			expect(await isIn(staff)).toBe(true);
			clock.advance(20 * MINUTE_MS);
		}
		clock.advance(20 * MINUTE_MS);
		expect(await isIn(staff)).toBe(false);
		const volunteer = api.browser();
		await volunteer.ask("POST", "/sign-in-codes", { body: { to: "+447700900002" } });
		await volunteer.ask("POST", "/sessions/by-code", {
			body: { to: "+447700900002", code: (await api.sent("signIn.code"))[0]!["oneTimeCode"] },
		});
		const DAY = 1440 * MINUTE_MS;
		clock.advance(29 * DAY);
		expect(await isIn(volunteer as never)).toBe(true);
		clock.advance(31 * DAY);
		expect(await isIn(volunteer as never)).toBe(false);
	});

	it("lists one's sessions, ends one, all others, or this one by signing out; an old cookie opens nothing then", async () => {
		await api.account("anna", "sup");
		const [phone, desk, other] = [api.browser(), api.browser(), api.browser()];
		for (const browser of [phone, desk, other]) await browser.signIn("anna");
		const { items } = (await desk.ask("GET", "/sessions")).body;
		expect(items).toHaveLength(3);
		expect(items.filter((one: { isThisOne: boolean }) => one.isThisOne)).toHaveLength(1);
		const [phones] = (await phone.ask("GET", "/sessions")).body.items.filter((one: { isThisOne: boolean }) => one.isThisOne);
		expect((await desk.ask("POST", `/sessions/${phones.id}/end`)).body).toEqual({ ended: 1 });
		expect((await phone.ask("GET", "/account")).status).toBe(401);
		expect((await desk.ask("POST", "/sessions/others/end")).body).toEqual({ ended: 1 });
		expect((await other.ask("GET", "/account")).status).toBe(401);
		const cookie = desk.cookies.get("session")!;
		expect((await desk.ask("POST", "/sessions/current/end")).body).toEqual({ ended: 1 });
		expect(desk.cookies.has("session")).toBe(false);
		expect((await api.ask("GET", "/account", { headers: { authorization: "", cookie: `session=${cookie}` } })).status).toBe(401);
	});

	it("ends none of somebody else's sessions, and an administrator ends anybody's", async () => {
		const id = await api.account("anna", "sup");
		await api.account("root", null, true);
		const [anna, root] = [api.browser(), api.browser()];
		await anna.signIn("anna");
		await root.signIn("root");
		const [annas] = (await anna.ask("GET", "/sessions")).body.items;
		expect((await root.ask("POST", `/sessions/${annas.id}/end`)).status).toBe(404);
		expect((await anna.ask("GET", "/account")).status).toBe(200);
		expect((await root.ask("POST", `/accounts/${id}/sessions/end`)).status).toBe(200);
		expect((await anna.ask("GET", "/account")).status).toBe(401);
	});

	it("changes a password by the old one, signs out everywhere else and begins a new session", async () => {
		await api.account("anna", "sup");
		const [desk, phone] = [api.browser(), api.browser()];
		await desk.signIn("anna");
		await phone.signIn("anna");
		const before = desk.cookies.get("session");
		const next = "nine buckets at the well";
		const wrong = await desk.ask("POST", "/account/password", { body: { password: "not the old one", newPassword: next } });
		expect([wrong.status, wrong.body.errors[0].pointer]).toEqual([403, "/password"]);
		const weak = await desk.ask("POST", "/account/password", { body: { password: PASSWORD, newPassword: "password" } });
		expect([weak.status, weak.body.errors[0].pointer]).toEqual([422, "/newPassword"]);
		expect((await desk.ask("POST", "/account/password", { body: { password: PASSWORD, newPassword: next } })).status).toBe(200);
		expect(desk.cookies.get("session")).not.toBe(before);
		expect((await desk.ask("GET", "/account")).status).toBe(200);
		expect((await phone.ask("GET", "/account")).status).toBe(401);
		expect((await phone.signIn("anna")).status).toBe(401);
		expect((await phone.signIn("anna", next)).status).toBe(201);
	});

	it("sends a code to choose a new password with, which serves once and 30 minutes, and tells nothing of who has an account", async () => {
		await api.account("anna", "sup");
		const browser = api.browser();
		const known = await browser.ask("POST", "/password/forgotten", { body: { login: "anna" } });
		const unknown = await browser.ask("POST", "/password/forgotten", { body: { login: "nobody" } });
		expect([known.status, known.text]).toEqual([unknown.status, unknown.text]);
		const [{ way: code } = {}] = await api.sent("signIn.password");
		expect(code).toMatch(/^([2-9A-HJKMNP-Z]{5}-){4}[2-9A-HJKMNP-Z]{5}$/);
		expect(JSON.stringify(await api.world.store.query("SELECT * FROM account_link"))).not.toContain(code);
		const next = "nine buckets at the well";
		expect((await browser.ask("POST", "/password", { body: { code, password: "too short" } })).status).toBe(422);
		expect((await browser.ask("POST", "/password", { body: { code, password: next } })).status).toBe(200);
		expect((await browser.ask("POST", "/password", { body: { code, password: next } })).status).toBe(403);
		expect((await browser.signIn("anna", next)).status).toBe(201);
		await browser.ask("POST", "/password/forgotten", { body: { login: "anna" } });
		api.world.clock.advance(31 * MINUTE_MS);
		const [{ way: late } = {}] = await api.sent("signIn.password");
		expect((await browser.ask("POST", "/password", { body: { code: late, password: PASSWORD } })).status).toBe(403);
	});

	it("asks for a second factor where it is on, takes each of its codes once, and a paper code in its place once", async () => {
		await api.account("anna", "sup");
		const browser = api.browser();
		await browser.signIn("anna");
		expect((await browser.ask("POST", "/account/second-factor", { body: { password: "not mine at all" } })).status).toBe(403);
		const { secret } = (await browser.ask("POST", "/account/second-factor", { body: { password: PASSWORD } })).body;
		const code = () => new TOTP({ secret }).generate({ timestamp: api.world.clock.nowMs() });
		expect((await browser.ask("POST", "/account/second-factor/confirm", { body: { code: "000000" } })).status).toBe(422);
		const { recoveryCodes } = (await browser.ask("POST", "/account/second-factor/confirm", { body: { code: code() } })).body;
		expect(recoveryCodes).toHaveLength(10);
		expect(JSON.stringify(await api.world.store.query("SELECT * FROM recovery_code"))).not.toContain(recoveryCodes[0]);
		const other = api.browser();
		const asked = await other.signIn("anna");
		expect([asked.status, asked.body.code]).toEqual([401, "code-needed"]);
		expect((await other.signIn("anna", "a wrong password indeed", code())).body.code).toBe("sign-in-refused");
		expect((await other.signIn("anna", PASSWORD, code())).status).toBe(401);
		api.world.clock.advance(MINUTE_MS);
		const fresh = code();
		expect((await other.signIn("anna", PASSWORD, fresh)).status).toBe(201);
		expect((await other.signIn("anna", PASSWORD, fresh)).status).toBe(401);
		expect((await other.signIn("anna", PASSWORD, recoveryCodes[3].toLowerCase())).status).toBe(201);
		expect((await other.signIn("anna", PASSWORD, recoveryCodes[3])).status).toBe(401);
		expect((await other.ask("POST", "/account/second-factor/off", { body: { password: PASSWORD } })).status).toBe(200);
		expect((await api.browser().signIn("anna")).status).toBe(201);
	});

	it("lets a new password chosen by a code go round no second factor", async () => {
		await api.account("anna", "sup");
		const browser = api.browser();
		await browser.signIn("anna");
		const { secret } = (await browser.ask("POST", "/account/second-factor", { body: { password: PASSWORD } })).body;
		const code = new TOTP({ secret }).generate({ timestamp: api.world.clock.nowMs() });
		await browser.ask("POST", "/account/second-factor/confirm", { body: { code } });
		await browser.ask("POST", "/password/forgotten", { body: { login: "anna" } });
		const [{ way } = {}] = await api.sent("signIn.password");
		const next = "nine buckets at the well";
		expect((await browser.ask("POST", "/password", { body: { code: way, password: next } })).status).toBe(200);
		expect((await browser.ask("GET", "/account")).status).toBe(401);
		expect((await browser.signIn("anna", next)).body.code).toBe("code-needed");
	});

	it("names whoever did it in the ledger: a person by her sign-in, a program by its key", async () => {
		await api.account("anna", "sup");
		const browser = api.browser();
		await browser.signIn("anna");
		expect(
			(await browser.ask("PUT", "/areas/A1/holidays", { body: { holidays: [{ onDate: "2026-05-01", name: "Invented" }] } }))
				.status,
		).toBe(200);
		const { id, key } = (await api.ask("POST", "/api-keys", { body: { name: "import", scopes: ["write"] } })).body;
		await api.ask("PUT", "/areas/A1/holidays", { body: { holidays: [] }, headers: { authorization: `Bearer ${key}` } });
		await api.ask("PUT", "/areas/A1/holidays", { body: { holidays: [] } });
		const entries = await api.world.store.query<{ actor: string }>(
			"SELECT actor FROM ledger_entry WHERE action = 'holidays set' ORDER BY id",
		);
		expect(entries.map(({ actor }) => actor)).toEqual(["sup", `key ${id}`, "office"]);
	});
});
