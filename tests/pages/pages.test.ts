import { onEachDatabase } from "../support/stores.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

onEachDatabase("the pages of a volunteer", (kind) => {
	let site: ServedSite;
	let hers: { cookie: string };
	let own: string;
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
		const { cookie, token } = await site.signedIn("vol");
		hers = { cookie };
		own = `token=${token}`;
	}, 120_000);
	afterAll(() => site.close());

	const get = (path: string, headers: Record<string, string> = hers) =>
		fetch(site.address + path, { headers, redirect: "manual" });
	const post = (path: string, body: string, headers: Record<string, string> = hers) =>
		fetch(site.address + path, {
			method: "POST",
			redirect: "manual",
			headers: { ...headers, "content-type": "application/x-www-form-urlencoded" },
			body,
		});
	const openTask = async (kind: string) => {
		const [task] = (await site.world.tasks()).filter((one) => one.kind === kind && one.state === "open");
		return task!;
	};

	it("lead a stranger to the sign-in, and refuse whoever has another role with 403, every one of them", async () => {
		const supervisor = await site.signedIn("sup");
		const guarded = site.pages.filter(({ roles }) => roles !== "anybody");
		expect(guarded.length).toBeGreaterThan(5);
		for (const { method, path, roles } of guarded) {
			const at = path.replace(/:\w+/g, "x");
			const asked =
				method === "GET" ? get : (to: string, headers: Record<string, string>) => post(to, `token=${supervisor.token}`, headers);
			const stranger = await asked(at, {});
			expect({ at, status: stranger.status, to: stranger.headers.get("location") }).toEqual({ at, status: 303, to: "/sign-in" });
			if (roles.includes("supervisor")) continue;
			expect({ at, status: (await asked(at, { cookie: supervisor.cookie })).status }).toEqual({ at, status: 403 });
		}
	});

	it("allow no script within them and one style by its digest, and aren't kept by anything between (W3C CSP Level 3)", async () => {
		const { headers } = await get("/me");
		expect(headers.get("content-security-policy")).toMatch(
			/^default-src 'none'; script-src 'self'; style-src 'self' 'sha256-[\w+/]{43}=';/,
		);
		expect(headers.get("content-security-policy")).not.toContain("unsafe");
		expect(headers.get("cache-control")).toBe("no-store");
		expect(await (await get("/me")).text()).not.toMatch(/<script>| style=| on\w+=/);
	});

	it("load a script whose address changes with it, kept for a year", async () => {
		const script = /src="(\/assets\/page\.\w+\.js)"/.exec(await (await get("/me")).text())?.[1];
		expect((await get(script!, {})).headers.get("cache-control")).toBe("public, max-age=31536000, immutable");
	});

	it("refuse a form of another site with 403, and change nothing", async () => {
		const { id } = await openTask("retest stored bleach");
		expect((await post(`/me/tasks/${id}/answer`, "means=reading&reading=3&key=another-site")).status).toBe(403);
		expect((await openTask("retest stored bleach")).id).toBe(id);
	});

	it("ask again with 422 where the field holds no number, and keep the task open", async () => {
		const { id } = await openTask("retest stored bleach");
		const answer = await post(`/me/tasks/${id}/answer`, `${own}&means=reading&reading=three or four&key=no-number-1`);
		expect(answer.status).toBe(422);
		expect(await answer.text()).toContain("This isn&#39;t one number.");
		expect((await openTask("retest stored bleach")).id).toBe(id);
	});

	it("take an answer, lead to what follows from it, and count the same form sent twice once", async () => {
		const { id } = await openTask("retest stored bleach");
		const body = `${own}&means=reading&reading=3,0&key=twice-sent-1`;
		const [first, second] = [await post(`/me/tasks/${id}/answer`, body), await post(`/me/tasks/${id}/answer`, body)];
		expect([first.status, first.headers.get("location")]).toEqual([303, `/me/tasks/${id}`]);
		expect([second.status, second.headers.get("location")]).toEqual([303, `/me/tasks/${id}`]);
		const told = await (await get(`/me/tasks/${id}`)).text();
		expect(told).toMatch(/Dose clear\/cloudy water: 20 L \d/);
		const tests = await site.world.store.query("SELECT id FROM strength_test WHERE task_id = $1", [id]);
		expect(tests).toHaveLength(1);
	});

	it("tell of an answer to a task that was closed meanwhile, and keep it", async () => {
		const closed = (await site.world.tasks()).find(({ state }) => state === "done")!;
		const answer = await post(`/me/tasks/${closed.id}/answer`, `${own}&means=reading&reading=4&key=too-late-1`);
		expect(answer.headers.get("location")).toBe(`/me/tasks/${closed.id}?is=late`);
		expect(await (await get("/me/answers")).text()).toContain("The task was closed before your answer came.");
		const [kept] = await site.world.store.query("SELECT body, outcome FROM reply WHERE outcome = 'closed already'");
		expect(kept).toEqual({ body: `${closed.code} 4`, outcome: "closed already" });
	});

	it("don't answer somebody else's task", async () => {
		const { id } = await openTask("clean container");
		await site.world.store.work.run((tx) => tx.query("UPDATE task SET assignee_id = 'sup' WHERE id = $1", [id]));
		expect((await post(`/me/tasks/${id}/answer`, `${own}&means=done&key=not-hers-1`)).status).toBe(422);
		expect((await get(`/me/tasks/${id}`)).status).toBe(404);
		expect((await openTask("clean container")).id).toBe(id);
	});

	it("say why a task can't be done, and let another wait until tomorrow", async () => {
		const [first, second] = (await site.world.tasks()).filter((one) => one.kind === "check water");
		await post(`/me/tasks/${first!.id}/answer`, `${own}&means=cannot&because=nobodyHome&key=cannot-key-1`);
		const [row] = await site.world.store.query<{ state: string; outcome: string }>(
			"SELECT state, outcome FROM task WHERE id = $1",
			[first!.id],
		);
		expect([row!.state, JSON.parse(row!.outcome).because]).toEqual(["cannot", "nobodyHome"]);
		const later = await post(`/me/tasks/${second!.id}/answer`, `${own}&means=later&key=later-key-1`);
		expect(later.headers.get("location")).toBe(`/me/tasks/${second!.id}?is=put-off`);
	});
});
