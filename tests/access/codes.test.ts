import { MINUTE_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { type Accessible, accessible, type Browser } from "./people.js";

const NUMBER = "+447700900002";

onEachDatabase("a code on a volunteer's phone", (kind) => {
	let api: Accessible;
	beforeEach(async () => {
		api = await accessible(kind);
	}, 60_000);
	afterEach(() => api.close());

	const askFor = (browser: Browser, to = NUMBER) => browser.ask("POST", "/sign-in-codes", { body: { to } });
	const enter = (browser: Browser, code: string, to = NUMBER) => browser.ask("POST", "/sessions/by-code", { body: { to, code } });
	const newest = async () => (await api.sent("signIn.code"))[0]!["oneTimeCode"] as string;

	it("has six digits, goes out at once in quiet hours too, is kept as a salted hash, and signs her in once", async () => {
		api.world.clock.advance(15 * 60 * MINUTE_MS);
		const browser = api.browser();
		expect((await askFor(browser)).status).toBe(202);
		const code = await newest();
		expect(code).toMatch(/^\d{6}$/);
		const [message] = (await api.world.messages()).filter(({ text }) => text === "signIn.code");
		expect(message).toMatchObject({ recipientId: "vol", state: "waiting", nextTryAtMs: api.world.clock.nowMs() });
		const [kept] = await api.world.store.query<{ codeHash: string }>("SELECT code_hash FROM sign_in_code");
		expect(kept!.codeHash).toMatch(/^\$argon2id\$/);
		expect((await enter(browser, `${code.slice(0, 3)} ${code.slice(3)}`)).status).toBe(201);
		expect((await browser.ask("GET", "/account")).body).toMatchObject({ personCode: "vol", login: null, roles: ["volunteer"] });
		expect((await enter(api.browser(), code)).status).toBe(401);
	});

	it("is answered alike for a number that nobody has, a supervisor's, and one that is no number", async () => {
		const told = async (to: string) => {
			const { status, text } = await askFor(api.browser(), to);
			return { status, text };
		};
		const known = await told(NUMBER);
		for (const to of ["+447700900777", "+447700900001", "supervisor", "vol", "not a number"])
			expect([to, await told(to)]).toEqual([to, known]);
		expect((await api.sent("signIn.code")).length).toBe(2);
		for (const to of [NUMBER, "+447700900777", "+447700900001"])
			expect([to, (await enter(api.browser(), "000000", to)).text.replace(/"instance":"[^"]*"/, "")]).toEqual([
				to,
				(await enter(api.browser(), "000001", "+447700900778")).text.replace(/"instance":"[^"]*"/, ""),
			]);
	});

	it("is good for 10 minutes (ASVS 6.5.5), and a newer one ends it", async () => {
		await askFor(api.browser());
		const first = await newest();
		api.world.clock.advance(11 * MINUTE_MS);
		expect((await enter(api.browser(), first)).status).toBe(401);
		await askFor(api.browser());
		const second = await newest();
		api.world.clock.advance(1 * MINUTE_MS);
		await askFor(api.browser());
		const third = await newest();
		if (second !== third) expect((await enter(api.browser(), second)).status).toBe(401);
		expect((await enter(api.browser(), third)).status).toBe(201);
	});

	it("stands five wrong tries, also when they come all at once, and is right no more after them", async () => {
		await askFor(api.browser());
		const code = await newest();
		const wrong = code === "000000" ? "111111" : "000000";
		await Promise.all(Array.from({ length: 5 }, () => enter(api.browser(), wrong)));
		expect((await enter(api.browser(), code)).status).toBe(401);
		const [{ tries } = { tries: 0 }] = await api.world.store.query<{ tries: number }>("SELECT tries FROM sign_in_code");
		expect(tries).toBe(5);
	});

	it("is sent three times in 15 minutes to one number at most, whoever has it or nobody, and says when to try again", async () => {
		for (const to of [NUMBER, "+447700900777"]) {
			for (let i = 0; i < 3; i++) expect((await askFor(api.browser(), to)).status).toBe(202);
			const { status, body, headers } = await askFor(api.browser(), to);
			expect([status, body.code, Number(headers["retry-after"])]).toEqual([429, "too-many-tries", 900]);
		}
		expect((await api.sent("signIn.code")).length).toBe(3);
		api.world.clock.advance(15 * MINUTE_MS + 1000);
		expect((await askFor(api.browser())).status).toBe(202);
	});

	it("is taken out of the text that told of it once the text has gone and the code is used or over", async () => {
		await askFor(api.browser());
		const code = await newest();
		await api.world.store.work.run((tx) => tx.affected("UPDATE message SET state = 'sent' WHERE text = 'signIn.code'"));
		expect((await enter(api.browser(), code)).status).toBe(201);
		expect(JSON.stringify(await api.world.store.query("SELECT * FROM message"))).not.toContain(code);
	});

	it("opens nothing any more once the volunteer has left: her session ends with the next request", async () => {
		const browser = api.browser();
		await askFor(browser);
		await enter(browser, await newest());
		expect((await browser.ask("GET", "/tasks")).status).toBe(200);
		await api.world.store.work.run((tx) => tx.affected("UPDATE person SET active = $1 WHERE id = 'vol'", [false]));
		expect((await browser.ask("GET", "/tasks")).status).toBe(401);
	});

	it("is ended by her supervisor for a phone that is lost", async () => {
		const browser = api.browser();
		await askFor(browser);
		await enter(browser, await newest());
		await api.account("anna", "sup");
		const anna = api.browser();
		await anna.signIn("anna");
		expect((await anna.ask("POST", "/people/vol/sessions/end")).body).toEqual({ ended: 1 });
		expect((await browser.ask("GET", "/tasks")).status).toBe(401);
	});
});
