import { DAY_MS } from "../../src/time/clock.js";
import { served } from "../api/served.js";
import { anArea } from "../support/builders.js";
import { onEachDatabase } from "../support/stores.js";
import { type Accessible, accessible } from "./people.js";

onEachDatabase("keys of programs", (kind) => {
	let api: Accessible;
	beforeAll(async () => {
		api = await accessible(kind);
	}, 60_000);
	afterAll(() => api.close());

	const made = async (body: object) =>
		(await api.ask("POST", "/api-keys", { body })).body as { id: string; key: string; endsAt: string };
	const withKey = (key: string) => ({ headers: { authorization: `Bearer ${key}` } });

	it("are told once, kept as a hash, and listed without themselves", async () => {
		const { id, key } = await made({ name: "register", scopes: ["read"] });
		expect(key).toMatch(/^jw_[\w-]{43}$/);
		expect(JSON.stringify(await api.world.store.query("SELECT * FROM api_key"))).not.toContain(key);
		const listed = await api.ask("GET", "/api-keys");
		expect(listed.text).not.toContain(key);
		expect(listed.body.items.find((one: { id: string }) => one.id === id)).toMatchObject({
			name: "register",
			scopes: ["read"],
			areaCode: null,
			usedAt: null,
		});
		await api.ask("GET", "/areas", withKey(key));
		expect((await api.ask("GET", "/api-keys")).body.items.find((one: { id: string }) => one.id === id).usedAt).not.toBeNull();
	});

	it("aren't kept under an Idempotency-Key either: the same request again makes another one", async () => {
		const headers = { "idempotency-key": '"one-key"' };
		const body = { name: "twice", scopes: ["read"] };
		const [one, other] = [
			await api.ask("POST", "/api-keys", { body, headers }),
			await api.ask("POST", "/api-keys", { body, headers }),
		];
		expect(one.body.key).not.toBe(other.body.key);
		const kept = JSON.stringify(await api.world.store.query("SELECT * FROM idempotency_key"));
		expect(kept).not.toContain(one.body.key);
	});

	it("end when they are revoked, and after their days", async () => {
		const { id, key } = await made({ name: "short", scopes: ["read"], days: 2 });
		expect((await api.ask("GET", "/areas", withKey(key))).status).toBe(200);
		expect((await api.ask("POST", `/api-keys/${id}/revoke`)).status).toBe(200);
		expect((await api.ask("POST", `/api-keys/${id}/revoke`)).status).toBe(404);
		expect((await api.ask("GET", "/areas", withKey(key))).status).toBe(401);
		const other = await made({ name: "short", scopes: ["read"], days: 2 });
		api.world.clock.advance(2 * DAY_MS);
		expect((await api.ask("GET", "/areas", withKey(other.key))).status).toBe(401);
	});

	it("are nobody who is signed in: they see to no session, password or account of anybody's", async () => {
		const { key } = await made({ name: "all", scopes: ["read", "write", "audit", "administer"] });
		for (const url of ["/account", "/sessions"])
			expect([url, (await api.ask("GET", url, withKey(key))).status]).toEqual([url, 403]);
	});

	it("see to their area alone, and with that to nothing of the whole programme", async () => {
		await anArea(api.world.store, { id: "b1", code: "B1" });
		const { key } = await made({ name: "part", scopes: ["read", "write", "administer"], areaCode: "B1" });
		expect((await api.ask("GET", "/areas", withKey(key))).body.items.map(({ code }: { code: string }) => code)).toEqual(["B1"]);
		expect((await api.ask("GET", "/people", withKey(key))).body.items).toEqual([]);
		expect((await api.ask("POST", "/accounts", { ...withKey(key), body: { login: "mine", isAdministrator: true } })).status).toBe(
			403,
		);
		expect((await api.ask("POST", "/api-keys", { ...withKey(key), body: { name: "more", scopes: ["read"] } })).status).toBe(403);
	});
});

onEachDatabase("areas that somebody sees to", (kind) => {
	let api: Accessible;
	beforeAll(async () => {
		api = await accessible(kind);
		await anArea(api.world.store, { id: "b1", code: "B1" });
		await anArea(api.world.store, { id: "b2", code: "B2", parentId: "b1" });
		await api.account("anna", "sup");
	}, 60_000);
	afterAll(() => api.close());

	it("are her own, and more where they are given to her, each with all below it, from the next request on", async () => {
		const anna = api.browser();
		await anna.signIn("anna");
		const seen = async () => (await anna.ask("GET", "/areas")).body.items.map(({ code }: { code: string }) => code);
		expect(await seen()).toEqual(["A1"]);
		const set = await api.ask("PUT", "/people/supervisor/areas", { body: { areaCodes: ["B1"] } });
		expect(
			set.status === 200 ? set.body : (await api.ask("PUT", "/people/sup/areas", { body: { areaCodes: ["B1"] } })).body,
		).toMatchObject({ areaCodes: ["A1", "B1"] });
		expect(await seen()).toEqual(["A1", "B1", "B2"]);
		await api.ask("PUT", "/people/sup/areas", { body: { areaCodes: [] } });
		expect(await seen()).toEqual(["A1"]);
	});

	it("must be in the tree: a code that no area has, and areas within each other in a circle, are named, and nothing is changed", async () => {
		await anArea(api.world.store, { id: "c1", code: "C1" });
		await anArea(api.world.store, { id: "c2", code: "C2", parentId: "c1" });
		await api.world.store.work.run((tx) => tx.affected("UPDATE area SET parent_id = 'c2' WHERE id = 'c1'"));
		const refused = await api.ask("PUT", "/people/sup/areas", { body: { areaCodes: ["B1", "NOWHERE", "C2"] } });
		expect([refused.status, refused.body.code]).toEqual([422, "unknown-area"]);
		expect(refused.body.errors).toEqual([
			{ pointer: "/areaCodes/1", detail: "names no area" },
			{ pointer: "/areaCodes/2", detail: expect.stringContaining("lies in a circle of areas") },
		]);
		expect((await api.ask("GET", "/people/sup/areas")).body.areaCodes).toEqual(["A1"]);
	});

	it("that lie in a circle end nobody's request: what lies in it is read once", async () => {
		await api.world.store.work.run((tx) => tx.affected("UPDATE person SET area_id = 'c1' WHERE id = 'sup'"));
		const anna = api.browser();
		await anna.signIn("anna");
		const { body } = await anna.ask("GET", "/areas");
		expect(body.items.map(({ code }: { code: string }) => code)).toEqual(["C1", "C2"]);
		await api.world.store.work.run((tx) => tx.affected("UPDATE person SET area_id = 'area' WHERE id = 'sup'"));
	});

	it("aren't a volunteer's", async () => {
		const refused = await api.ask("PUT", "/people/vol/areas", { body: { areaCodes: ["B1"] } });
		expect([refused.status, refused.body.code]).toEqual([422, "not-allowed"]);
	});
});

onEachDatabase("accounts", (kind) => {
	let api: Accessible;
	beforeAll(async () => {
		api = await accessible(kind);
	}, 60_000);
	afterAll(() => api.close());

	it.each([
		["a login that can't be typed everywhere", { login: "añña", isAdministrator: true }, "/login"],
		["nobody's", { login: "nobody" }, "/personCode"],
		["a volunteer's", { login: "vol", personCode: "vol" }, "/personCode"],
	])("are refused with the place where they are %s", async (_, body, pointer) => {
		const refused = await api.ask("POST", "/accounts", { body });
		expect([refused.status, refused.body.errors?.[0].pointer]).toEqual([422, pointer]);
	});

	it("are one for a person and one for a login, and nobody sees or sets another's password", async () => {
		await api.account("anna", "sup");
		expect((await api.ask("POST", "/accounts", { body: { login: "anna2", personCode: "sup" } })).status).toBe(422);
		expect((await api.ask("POST", "/accounts", { body: { login: "ANNA", isAdministrator: true } })).status).toBe(409);
		expect((await api.ask("GET", "/accounts")).text).not.toContain("argon2");
		const { id } = (await api.ask("GET", "/accounts")).body.items[0];
		expect((await api.ask("POST", `/accounts/${id}/password-code`)).body).toEqual({ id, code: null });
	});

	it("of the last administrator can't be closed", async () => {
		const id = await api.account("root", null, true);
		expect((await api.ask("POST", `/accounts/${id}/state`, { body: { isActive: false } })).status).toBe(409);
		const other = await api.account("root2", null, true);
		expect((await api.ask("POST", `/accounts/${other}/state`, { body: { isActive: false } })).status).toBe(200);
	});
});

describe("the machine itself", () => {
	it("is trusted until an administrator has chosen a password, and no more after that", async () => {
		const api = await served("sqlite", { apiKey: undefined, inboundSecret: undefined });
		try {
			expect((await api.ask("GET", "/people")).status).toBe(200);
			const { code } = (await api.ask("POST", "/accounts", { body: { login: "root", isAdministrator: true } })).body;
			expect((await api.ask("GET", "/people")).status).toBe(200);
			expect((await api.ask("POST", "/password", { body: { code, password: "five jars in the shade" } })).status).toBe(200);
			const refused = await api.ask("GET", "/people");
			expect([refused.status, refused.body.code]).toEqual([401, "key-needed"]);
		} finally {
			await api.close();
		}
	});
});
