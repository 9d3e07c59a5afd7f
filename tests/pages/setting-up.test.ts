import { type Delivery, Notifier, type Outgoing } from "../../src/messages/notifier.js";
import { onEachDatabase } from "../support/stores.js";
import { type ServedSite, servedSite } from "./site.js";

const PASSWORD = "four quiet herons stand";

const HEADER = "code,area_code,persons,volunteer_code,water_source,turbidity,latitude_deg,longitude_deg\n";

/** Keeps what it was given to send. */
class Kept extends Notifier {
	readonly name = "kept";
	readonly sent: Outgoing[] = [];
	async send(message: Outgoing): Promise<Delivery> {
		this.sent.push(message);
		return message.recipient.phoneE164 === "+447700900199"
			? { kind: "refused", reason: "no such number", forGood: true }
			: { kind: "accepted", answer: "queued" };
	}
}

onEachDatabase("setting up without the command line", (kind) => {
	let site: ServedSite;
	let cookie = "";
	let token = "";
	const channel = new Kept();
	beforeAll(async () => {
		site = await servedSite(kind, { notifiers: [channel] });
	}, 120_000);
	afterAll(() => site.close());

	const get = async (path: string, headers: Record<string, string> = { cookie }) => {
		const answer = await fetch(site.address + path, { headers, redirect: "manual" });
		return { status: answer.status, to: answer.headers.get("location"), text: await answer.text() };
	};
	const post = (path: string, fields: Record<string, string>, headers: Record<string, string> = { cookie }) =>
		fetch(site.address + path, {
			method: "POST",
			redirect: "manual",
			headers: { ...headers, "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams({ token, ...fields }).toString(),
		});
	const upload = async (kindName: string, text: string) => {
		const body = new FormData();
		for (const [name, value] of Object.entries({ token, kind: kindName, country: "" })) body.set(name, value);
		body.set("file", new Blob([text]), `${kindName}.csv`);
		const answer = await fetch(`${site.address}/setting-up/import`, {
			method: "POST",
			headers: { cookie, "x-form-token": token },
			body,
		});
		return { status: answer.status, text: await answer.text() };
	};
	const accounts = () =>
		site.world.store.query<{ login: string }>("SELECT login FROM account WHERE administrator ORDER BY login");

	it("asks for the administrator at the first start, on this machine without a code", async () => {
		const { status, text } = await get("/setting-up");
		expect([status, text.includes("Nobody administers this programme yet")]).toEqual([200, true]);
		expect(text).not.toContain("Set-up code");
	});

	it("asks another machine for the code in the log, and makes nobody without it", async () => {
		const host = { host: "jarwatch.example" };
		const { request } = await import("node:http");
		const asked = await new Promise<{ status: number; text: string }>((resolve, reject) => {
			const { port } = new URL(site.address);
			const body = new URLSearchParams({ login: "stranger", password: PASSWORD, key: "ABCDE-FGHJK" }).toString();
			const headers = { ...host, "content-type": "application/x-www-form-urlencoded", "content-length": String(body.length) };
			const sending = request(
				{ host: "127.0.0.1", port, method: "POST", path: "/setting-up/administrator", headers },
				(answer) => {
					let text = "";
					answer.on("data", (part) => (text += part)).on("end", () => resolve({ status: answer.statusCode ?? 0, text }));
				},
			);
			sending.on("error", reject).end(body);
		});
		expect(asked.status).toBe(403);
		expect(asked.text).toContain("Set-up code");
		expect(await accounts()).toEqual([]);
	});

	it("refuses a password that others would guess, and takes no name by it", async () => {
		const answer = await post("/setting-up/administrator", { login: "chief", password: "short" });
		expect([answer.status, (await answer.text()).includes("at least 15 characters")]).toEqual([422, true]);
		expect(await accounts()).toEqual([]);
	});

	it("makes the administrator and signs her in; from then on nobody else can", async () => {
		const made = await post("/setting-up/administrator", { login: "chief", password: PASSWORD });
		expect([made.status, made.headers.get("location")]).toEqual([303, "/setting-up"]);
		cookie = /session=[^;]+/.exec(made.headers.get("set-cookie") ?? "")![0];
		token = /name="token" value="([^"]+)"/.exec((await get("/setting-up")).text)![1]!;
		expect(await accounts()).toEqual([{ login: "chief" }]);
		expect((await post("/setting-up/administrator", { login: "second", password: PASSWORD }, {})).headers.get("location")).toBe(
			"/sign-in/staff",
		);
		expect((await get("/setting-up", {})).to).toBe("/sign-in/staff");
		expect(await accounts()).toHaveLength(1);
	});

	it("signs her in by her password, and leads her here", async () => {
		const wrong = await post("/sign-in/staff", { login: "chief", password: "another one entirely" }, {});
		expect([wrong.status, (await wrong.text()).includes("isn&#39;t right")]).toEqual([422, true]);
		const right = await post("/sign-in/staff", { login: "Chief", password: PASSWORD }, {});
		expect(right.headers.get("location")).toBe("/");
		expect((await get("/", { cookie: /session=[^;]+/.exec(right.headers.get("set-cookie") ?? "")![0] })).to).toBe("/setting-up");
	});

	it("takes a file in with a report of line, column and value, whole or not at all", async () => {
		const before = await site.world.store.query("SELECT id FROM household");
		const { status, text } = await upload(
			"households",
			`${HEADER}N1,A1,4,,well,clear,,\nN2,A1,four,,well,clear,,\nN3,NOWHERE,3,,well,clear,,\n`,
		);
		expect(status).toBe(422);
		expect(text).toMatch(/<th scope="row">3<\/th><td><bdi class="code">persons<\/bdi><\/td><td><bdi>four<\/bdi>/);
		expect(text).toMatch(/<th scope="row">4<\/th><td><bdi class="code">area_code<\/bdi><\/td><td><bdi>NOWHERE<\/bdi>/);
		expect(await site.world.store.query("SELECT id FROM household")).toEqual(before);
		const right = await upload("households", `${HEADER}N1,A1,4,,well,clear,,\n`);
		expect([right.status, right.text.includes("1 new")]).toEqual([200, true]);
	});

	it("doesn't load the invented district over facts that are there", async () => {
		expect((await get("/setting-up")).text).not.toContain("Load the invented district");
		expect((await post("/setting-up/demo", {})).status).toBe(409);
	});

	it("sends a test message by a channel, and tells what the channel answered", async () => {
		const taken = await post("/setting-up/channel", { channel: "kept", to: "+44 7700 900123" });
		expect([taken.status, (await taken.text()).includes("kept took it after")]).toEqual([200, true]);
		expect(channel.sent.map(({ text, recipient }) => [text, recipient.phoneE164])).toEqual([
			["Jarwatch: this is a test. Nothing needs to be done.", "+447700900123"],
		]);
		const refused = await post("/setting-up/channel", { channel: "kept", to: "+44 7700 900199" });
		expect([refused.status, (await refused.text()).includes("no such number")]).toEqual([422, true]);
		expect((await post("/setting-up/channel", { channel: "kept", to: "nobody here" })).status).toBe(422);
	});

	it("is for administrators alone", async () => {
		const supervisor = await site.signedIn("sup");
		expect((await get("/setting-up", { cookie: supervisor.cookie })).status).toBe(403);
		const tried = await fetch(`${site.address}/setting-up/channel`, {
			method: "POST",
			headers: { cookie: supervisor.cookie, "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams({ token: supervisor.token, channel: "kept", to: "+447700900123" }).toString(),
		});
		expect(tried.status).toBe(403);
		expect(channel.sent).toHaveLength(2);
	});
});

onEachDatabase("having a look first", (kind) => {
	it("loads the invented district into an empty database, with people, jars and open plans of work", async () => {
		const site = await servedSite(kind);
		try {
			await site.world.store.work.run(async (tx) => {
				for (const table of ["person", "area", "programme"]) await tx.query(`DELETE FROM ${table}`);
			});
			const made = await posted(site, "/setting-up/administrator", { login: "chief", password: PASSWORD }, "");
			const cookie = /session=[^;]+/.exec(made.headers.get("set-cookie") ?? "")![0];
			const page = await (await fetch(`${site.address}/setting-up`, { headers: { cookie } })).text();
			expect(page).toContain("Load the invented district");
			const token = /name="token" value="([^"]+)"/.exec(page)![1]!;
			const loaded = await posted(site, "/setting-up/demo", { token }, cookie);
			expect([loaded.status, loaded.headers.get("location")]).toEqual([303, "/setting-up?demo=1"]);
			const [counted] = await site.world.store.query<{ people: number; jars: number; due: number }>(
				"SELECT (SELECT COUNT(*) FROM person) AS people, (SELECT COUNT(*) FROM batch WHERE forecast IS NOT NULL) AS jars, (SELECT COUNT(*) FROM due) AS due",
			);
			for (const number of Object.values(counted!)) expect(Number(number)).toBeGreaterThan(10);
		} finally {
			await site.close();
		}
	}, 120_000);

	function posted(site: ServedSite, path: string, fields: Record<string, string>, cookie: string) {
		return fetch(site.address + path, {
			method: "POST",
			redirect: "manual",
			headers: { ...(cookie && { cookie }), "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams(fields).toString(),
		});
	}
});
