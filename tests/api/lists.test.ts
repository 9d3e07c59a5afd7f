import fc from "fast-check";
import { aMessage, anArea, aPerson, aTask, THURSDAY_NOON_MS } from "../support/builders.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("a list", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		const { store } = api.world;
		await anArea(store, { id: "below", code: "A1-1", parentId: "area" });
		await anArea(store, { id: "deep", code: "A1-1-1", parentId: "below" });
		await anArea(store, { id: "aside", code: "A2" });
		for (let n = 0; n < 25; n++) {
			await aPerson(store, {
				id: `p${n}`,
				code: `P-${String(n).padStart(2, "0")}`,
				areaId: n % 2 ? "deep" : "aside",
				name: `Name ${n % 3}`,
			});
			const openedAtMs = THURSDAY_NOON_MS + (n % 4) * 1000;
			await aTask(store, {
				id: `t${n}`,
				code: `T${n}`,
				areaId: n % 2 ? "deep" : "aside",
				assigneeId: `p${n % 5}`,
				openedAtMs,
				ladderStep: n % 2,
				state: n < 20 ? "open" : "done",
			});
			await aMessage(store, { id: `m${n}`, recipientId: `p${n % 5}`, taskId: `t${n}`, state: n % 2 ? "sent" : "waiting" });
		}
	});
	afterAll(() => api.close());

	const codes = async (url: string) => {
		const { status, body } = await api.ask("GET", url);
		expect({ url, status }).toEqual({ url, status: 200 });
		return (body.items as { code: string }[]).map(({ code }) => code);
	};

	it("holds 50 where nothing is said, as many as asked for up to 1000, and refuses 0, 1001 and halves", async () => {
		const { store } = api.world;
		for (let n = 0; n < 40; n++) await aTask(store, { id: `more${n}`, code: `M${n}`, areaId: "area", openedAtMs: 1000 + n });
		expect(await codes("/tasks")).toHaveLength(50);
		expect(await codes("/tasks?limit=1000")).toHaveLength(65);
		for (const limit of ["0", "1001", "2.5", "x", "-1", "1e9"])
			expect({ limit, status: (await api.ask("GET", `/tasks?limit=${limit}`)).status }).toEqual({ limit, status: 422 });
		await store.work.run((tx) => tx.affected("DELETE FROM task WHERE id LIKE 'more%'"));
	});

	it.each(["-openedAt", "openedAt", "dueAt"])(
		"shows each task once, whatever the length of the pages, sorted by %s with many equal instants",
		async (sort) => {
			const whole = await codes(`/tasks?limit=1000&sort=${sort}`);
			expect(new Set(whole).size).toBe(25);
			await fc.assert(
				fc.asyncProperty(fc.integer({ min: 1, max: 30 }), async (limit) => {
					const seen: string[] = [];
					for (let next: string | null = ""; next !== null; ) {
						const { body } = await api.ask("GET", `/tasks?sort=${sort}&limit=${limit}${next && `&cursor=${next}`}`);
						expect(body.items.length).toBeLessThanOrEqual(limit);
						seen.push(...body.items.map(({ code }: { code: string }) => code));
						next = body.next;
					}
					expect(seen).toEqual(whole);
				}),
				{ numRuns: 12, seed: 7 },
			);
		},
	);

	it("neither repeats nor hides a row that was there from the beginning while others come and go between two pages", async () => {
		const { store } = api.world;
		const before = await codes("/people?limit=1000&sort=name");
		const seen: string[] = [];
		let round = 0;
		for (let next: string | null = ""; next !== null; round++) {
			const { body } = await api.ask("GET", `/people?sort=name&limit=3${next && `&cursor=${next}`}`);
			seen.push(...body.items.map(({ code }: { code: string }) => code));
			next = body.next;
			await aPerson(store, { id: `new${round}`, code: `N-${round}`, areaId: "aside", name: `Name ${round % 3}` });
			if (round > 0) await store.work.run((tx) => tx.affected("DELETE FROM person WHERE id = $1", [`new${round - 1}`]));
		}
		await store.work.run((tx) => tx.affected("DELETE FROM person WHERE id LIKE 'new%'"));
		expect(seen.filter((code) => !code.startsWith("N-"))).toEqual(before);
		expect(new Set(seen).size).toBe(seen.length);
	});

	it("refuses a cursor of another list, of other filters, cut short or made up, with 400 and never with 500", async () => {
		const { body } = await api.ask("GET", "/tasks?limit=2");
		const of = JSON.parse(Buffer.from(body.next, "base64url").toString());
		const made = (value: unknown) => Buffer.from(JSON.stringify(value)).toString("base64url");
		const wrong = [
			["/tasks?limit=2&state=open", body.next],
			["/tasks?limit=2&sort=dueAt", body.next],
			["/people?limit=2", body.next],
			["/tasks", body.next.slice(0, -3)],
			["/tasks", ""],
			["/tasks", "AAAA"],
			...[
				[of[0], "x", "y"],
				[of[0], 1.5, "y"],
				[of[0], 1e300, "y"],
				[of[0], null, "y"],
				[of[0], 1, "a\0"],
				[of[0], 1],
				{ length: 3 },
				of[0],
			].map((value) => ["/tasks", made(value)]),
		] as [string, string][];
		for (const [url, cursor] of wrong) {
			const answer = await api.ask("GET", `${url}${url.includes("?") ? "&" : "?"}cursor=${cursor}`);
			expect({ url, cursor, status: answer.status }).toEqual({ url, cursor, status: 400 });
			expect(answer.body.errors[0].parameter).toBe("cursor");
		}
		// The length of a page may change on the way.
		expect((await api.ask("GET", `/tasks?limit=7&cursor=${body.next}`)).status).toBe(200);
	});

	it("sorts by nothing but what is on its list: no text from outside gets into a statement", async () => {
		await fc.assert(
			fc.asyncProperty(fc.string({ minLength: 1, unit: "grapheme" }), async (sort) => {
				const { status } = await api.ask("GET", `/tasks?sort=${encodeURIComponent(sort)}`);
				expect(["-openedAt", "openedAt", "dueAt"].includes(sort) ? 200 : 422).toBe(status);
			}),
			{
				numRuns: 60,
				seed: 11,
				examples: [["t.id; DROP TABLE task --"], ["opened_at_ms"], ["id"], ["constructor"], ["__proto__"]],
			},
		);
	});

	it("of an area holds what lies in it and in all below it, and of an area that isn't there nothing but a refusal", async () => {
		expect(await codes("/people?area=A1-1&limit=100")).toEqual(await codes("/people?area=A1-1-1&limit=100"));
		expect(await codes("/people?area=A1&role=volunteer")).toHaveLength(13);
		expect(await codes("/people?area=A2")).toHaveLength(13);
		expect(await codes("/tasks?area=A1")).toHaveLength(12);
		for (const url of [
			"/people?area=nowhere",
			"/tasks?area=nowhere",
			"/households?area=nowhere",
			"/generators?area=nowhere",
			"/batches?area=nowhere",
		]) {
			const { status, body } = await api.ask("GET", url);
			expect([status, body.code, body.errors[0].parameter]).toEqual([422, "unknown-area", "area"]);
		}
	});

	it("of tasks goes by assignee, state and lateness: late is open and reminded of at least once", async () => {
		expect(await codes("/tasks?assignee=P-03&limit=100")).toHaveLength(5);
		expect(await codes("/tasks?state=done")).toHaveLength(5);
		expect(await codes("/tasks?late=true")).toHaveLength(10);
		expect(await codes("/tasks?late=false")).toHaveLength(15);
		expect((await api.ask("GET", "/tasks?assignee=nobody")).body.code).toBe("unknown-subject");
		expect((await api.ask("GET", "/tasks?late=maybe")).status).toBe(422);
	});

	it("of people shows the last three digits of a phone and nothing else of it", async () => {
		const { text, body } = await api.ask("GET", "/people?role=supervisor");
		expect(body.items).toEqual([
			{
				code: "sup",
				role: "supervisor",
				name: "Invented Supervisor",
				phone: "…001",
				email: null,
				channels: [],
				language: "en",
				areaCode: "A1",
				supervisorCode: null,
				active: true,
				wantsMessages: true,
			},
		]);
		expect(text).not.toContain("4477009");
	});

	it("of messages goes by state, recipient and task, the newest first", async () => {
		const ids = async (url: string) => (await api.ask("GET", url)).body.items.map(({ id }: { id: string }) => id);
		expect(await ids("/messages?recipient=P-03&state=sent")).toEqual(["m3", "m23", "m13"]);
		expect(await ids("/messages?task=t7")).toEqual(["m7"]);
		expect(await ids("/messages?task=nothing")).toEqual([]);
	});

	it("of failed messages leads to the reason of each try, and a failed message, and no other, is sent again", async () => {
		const { store } = api.world;
		await aMessage(store, {
			id: "failed1",
			recipientId: "p3",
			state: "failed",
			nextTryAtMs: null,
			tries: 2,
			answer: "no such number",
		});
		await store.work.run((tx) =>
			tx.query(
				"INSERT INTO message_failure (id, message_id, failed_at_ms, channel, for_good, reason) VALUES ('f1', 'failed1', $1, 'sms', $2, $3)",
				[THURSDAY_NOON_MS, true, "no such number: +447700900123"],
			),
		);
		const tries = await api.ask("GET", "/messages/failed1/failed-tries");
		expect(tries.body.items).toEqual([
			{ failedAt: "2026-03-05T09:00:00.000Z", channel: "sms", forGood: true, reason: "no such number: [number]" },
		]);
		expect((await api.ask("POST", "/messages/failed1/replay")).body).toEqual({ messages: 1 });
		expect(await store.query("SELECT state, tries, next_try_at_ms FROM message WHERE id = 'failed1'")).toEqual([
			{ state: "waiting", tries: 0, nextTryAtMs: api.world.clock.nowMs() },
		]);
		expect((await api.ask("POST", "/messages/failed1/replay")).status).toBe(409);
		expect((await api.ask("POST", "/messages/nothing/replay")).status).toBe(404);
		expect((await api.ask("POST", "/messages/replay-failed")).body).toEqual({ messages: 0 });
		await store.work.run(async (tx) => {
			await tx.affected("DELETE FROM message_failure");
			await tx.affected("DELETE FROM message WHERE id = 'failed1'");
		});
	});

	it("of batches goes by keeper, state and area, and shows the forecast that is kept with each", async () => {
		await aBatch(api.world, "B1");
		await aBatch(api.world, "B2", { keeperCode: "P-03", areaCode: "A1-1-1" });
		expect(await codes("/batches?keeper=P-03")).toEqual(["B2"]);
		expect(await codes("/batches?area=A1")).toEqual(["B1", "B2"]);
		expect(await codes("/batches?area=A1-1")).toEqual(["B2"]);
		expect(await codes("/batches?state=discarded")).toEqual([]);
		const { body } = await api.ask("GET", "/batches?keeper=vol");
		expect(body.items[0]).toMatchObject({
			code: "B1",
			keeperCode: "vol",
			madeAt: "2026-03-03T05:00:00.000Z",
			forecast: { verdict: "usable" },
		});
	});

	it("of the ledger goes by subject and time, from an instant on and up to but not with another", async () => {
		const { body } = await api.ask("GET", "/ledger?subject=batch:B1");
		expect(body.items).toHaveLength(1);
		expect(body.items[0]).toMatchObject({ action: "batch registered", subjectKind: "batch", at: "2026-03-03T05:00:00.000Z" });
		const number = async (url: string) => (await api.ask("GET", url)).body.items.length;
		expect(await number("/ledger?from=2026-03-03T05:00:00Z&to=2026-03-03T05:00:00.001Z&subject=batch:B1")).toBe(1);
		expect(await number("/ledger?from=2026-03-03T08:00:00%2B03:00&to=2026-03-03T05:00:00Z")).toBe(0);
		expect(await number(`/ledger?subject=batch:${body.items[0].subjectId}`)).toBe(1);
		for (const url of [
			"/ledger?subject=batch",
			"/ledger?from=yesterday",
			"/ledger?from=2026-02-30T00:00:00Z",
			"/ledger?from=2026-03-03T05:00:00",
		])
			expect({ url, status: (await api.ask("GET", url)).status }).toEqual({ url, status: 422 });
	});

	it("of households comes with their containers, by area and volunteer", async () => {
		await api.world.store.work.run(async (tx) => {
			await tx.query(
				"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('h1', 'H1', 'area', 'vol', 5, 'well', 'cloudy'), ('h2', 'H2', 'deep', NULL, 3, 'river', 'clear')",
			);
			await tx.query(
				"INSERT INTO container (id, code, household_id, volume_l, kind, last_cleaned_on) VALUES ('c2', 'C2', 'h1', 10, 'bucket with cover', NULL), ('c1', 'C1', 'h1', 20, 'narrow mouth', '2026-02-28')",
			);
			await tx.query(
				"INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service) VALUES ('g1', 'G1', 'Invented cell', 'deep', 5, 1, 0.6, 20, 30, $1)",
				[true],
			);
		});
		expect((await api.ask("GET", "/households?volunteer=vol")).body.items).toEqual([
			{
				code: "H1",
				areaCode: "A1",
				volunteerCode: "vol",
				persons: 5,
				waterSource: "well",
				turbidity: "cloudy",
				containers: [
					{ code: "C1", volumeL: 20, kind: "narrow mouth", lastCleanedOn: "2026-02-28" },
					{ code: "C2", volumeL: 10, kind: "bucket with cover", lastCleanedOn: null },
				],
			},
		]);
		expect(await codes("/households?area=A1")).toEqual(["H1", "H2"]);
		expect((await api.ask("GET", "/generators?area=A1-1")).body.items).toEqual([
			{
				code: "G1",
				name: "Invented cell",
				areaCode: "A1-1-1",
				ratedCurrentA: 5,
				cellsInSeries: 1,
				currentEfficiency: 0.6,
				batchVolumeL: 20,
				saltGPerL: 30,
				inService: true,
			},
		]);
	});
});
