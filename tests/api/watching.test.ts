import { Readiness } from "../../src/api/health/readiness.js";
import { Metrics } from "../../src/api/metrics/metrics.js";
import { VirtualClock } from "../../src/time/clock.js";
import { aMessage, aTask, THURSDAY_NOON_MS } from "../support/builders.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

/** One value of the text format of Prometheus: a name, its labels as they stand, a number. */
function sampleOf(text: string, sample: string): number | undefined {
	const line = text.split("\n").find((known) => known.startsWith(`${sample} `));
	return line === undefined ? undefined : Number(line.slice(sample.length + 1));
}

onEachDatabase("whether the service is ready", (kind) => {
	const good = { healthy: async () => true };
	const swept = (agoMs: number | undefined) => ({ sinceLastGoodMs: () => agoMs });
	const parts = async (readiness: Readiness) => (await readiness.parts()).filter(({ ready }) => !ready);

	it("depends on database, schema, queue and a sweep within three intervals, each told by its name", async () => {
		const store = await newStore(kind);
		try {
			expect(await parts(new Readiness(store, good, swept(1000), 5000))).toEqual([]);
			expect(await parts(new Readiness(store, good, undefined, 5000))).toEqual([]);
			expect(await parts(new Readiness(store, { healthy: async () => false }, swept(1000), 5000))).toEqual([
				{ name: "queue", ready: false, why: "the queue can't be reached" },
			]);
			expect(await parts(new Readiness(store, good, swept(60_000), 5000))).toEqual([
				{ name: "sweep", ready: false, why: "no sweep has ended well for 60 s" },
			]);
			// Just started: the first sweep may still be at work.
			expect(await parts(new Readiness(store, good, swept(undefined), 5000))).toEqual([]);
		} finally {
			await store.remove();
		}
	});

	it("is no once a later release has changed the database", async () => {
		const store = await newStore(kind);
		try {
			await store.work.run((tx) => tx.query(`INSERT INTO migration (timestamp, name) VALUES (1, 'FromTheFuture1')`));
			expect(await parts(new Readiness(store, good, undefined, 5000))).toEqual([
				{ name: "schema", ready: false, why: "a later release has changed the database" },
			]);
		} finally {
			await store.remove();
		}
	});

	it("is no once the database has gone, without a word of where it was", async () => {
		const store = await newStore(kind);
		const readiness = new Readiness(store, good, undefined, 5000);
		await store.remove();
		expect(await parts(readiness)).toEqual([
			{ name: "database", ready: false, why: "can't be reached" },
			{ name: "schema", ready: false, why: "can't be reached" },
		]);
	});
});

describe("health and metrics over HTTP", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite");
	});
	afterAll(() => api.close());

	it("answer 503 with the parts that aren't ready, while the process still lives", async () => {
		jest.spyOn(Readiness.prototype, "parts").mockResolvedValueOnce([
			{ name: "database", ready: true },
			{ name: "queue", ready: false, why: "the queue can't be reached" },
		]);
		const { status, headers, body } = await api.ask("GET", "/health/ready");
		expect([status, headers["retry-after"], body.code]).toEqual([503, "5", "not-ready"]);
		expect(body.parts).toContainEqual({ name: "queue", ready: false, why: "the queue can't be reached" });
		expect((await api.ask("GET", "/health/live")).status).toBe(200);
	});

	it("count requests by route pattern, so that no code of a jar becomes a label", async () => {
		for (const code of ["AAA", "BBB", "CCC"]) await api.ask("GET", `/batches/${code}`);
		await api.ask("GET", "/nothing/at/all");
		const { text, headers } = await api.ask("GET", "/metrics");
		expect(headers["content-type"]).toMatch(/^text\/plain; version=0\.0\.4/);
		const requests = (labels: string) => sampleOf(text, `jarwatch_http_request_duration_seconds_count{${labels}}`);
		expect(requests('method="GET",route="/batches/:code",status="404"')).toBe(3);
		expect(requests('method="GET",route="none",status="404"')).toBe(1);
		expect(text).not.toMatch(/AAA|nothing/);
		expect(sampleOf(text, "process_resident_memory_bytes")).toBeGreaterThan(1e6);
	});
});

onEachDatabase("metrics", (kind) => {
	it("count open tasks by kind and the messages that wait, and tell how long the oldest due one has", async () => {
		const api = await served(kind);
		try {
			const { store, clock } = api.world;
			clock.moveTo(THURSDAY_NOON_MS + 90_000);
			await aTask(store, { areaId: "area", kind: "retest" });
			await aTask(store, { areaId: "area", kind: "retest", ladderStep: 2 });
			await aTask(store, { areaId: "area", kind: "retest", state: "done" });
			await aMessage(store, { recipientId: "vol" });
			await aMessage(store, { recipientId: "vol", nextTryAtMs: clock.nowMs() + 60_000 });
			await aMessage(store, { recipientId: "vol", state: "sent", nextTryAtMs: null });
			const held = { recipientId: "vol", state: "held", nextTryAtMs: null, heldUntilMs: clock.nowMs() + 60_000 } as const;
			await aMessage(store, held);
			await aMessage(store, { ...held, heldBecause: "day" });
			const { text } = await api.ask("GET", "/metrics");
			expect({
				opened: sampleOf(text, 'jarwatch_tasks_opened_total{kind="retest"}'),
				open: sampleOf(text, 'jarwatch_tasks_open{kind="retest",reminded="no"}'),
				reminded: sampleOf(text, 'jarwatch_tasks_open{kind="retest",reminded="yes"}'),
				waiting: sampleOf(text, 'jarwatch_outbox_messages{state="waiting"}'),
				claimed: sampleOf(text, 'jarwatch_outbox_messages{state="claimed"}'),
				held: ["time", "day", "month"].map((because) => sampleOf(text, `jarwatch_messages_held{because="${because}"}`)),
				oldestS: sampleOf(text, "jarwatch_outbox_oldest_due_age_seconds"),
				up: sampleOf(text, "jarwatch_database_up"),
			}).toEqual({ opened: 3, open: 1, reminded: 1, waiting: 2, claimed: 0, held: [1, 1, 0], oldestS: 90, up: 1 });
			// Asked twice, nothing counts twice.
			expect(sampleOf((await api.ask("GET", "/metrics")).text, 'jarwatch_tasks_opened_total{kind="retest"}')).toBe(3);
		} finally {
			await api.close();
		}
	});

	it("say that the database can't be reached instead of failing with it", async () => {
		const store = await newStore(kind);
		const metrics = new Metrics(store, new VirtualClock(0), { sinceLastGoodMs: () => 7000, onSwept: () => undefined });
		await store.remove();
		const { text } = await metrics.text();
		expect(sampleOf(text, "jarwatch_database_up")).toBe(0);
		expect(sampleOf(text, "jarwatch_sweep_age_seconds")).toBe(7);
	});

	it("count messages by channel and outcome and texts by what became of them, and tell how long the oldest open task has been due", async () => {
		const api = await served(kind);
		try {
			const { store, clock, ids, replies } = api.world;
			clock.advance(5000);
			const ended = { nextTryAtMs: null, endedAtMs: clock.nowMs() };
			const { id: sent } = await aMessage(store, { recipientId: "vol", state: "sent", channel: "sms", ...ended });
			await aMessage(store, { recipientId: "vol", state: "sent", channel: "sms", ...ended });
			await aMessage(store, { recipientId: "vol", state: "failed", channel: "sms", ...ended });
			await aMessage(store, { recipientId: "vol", state: "withdrawn", ...ended });
			await store.work.run((tx) =>
				tx.affected(
					"INSERT INTO message_failure (id, message_id, failed_at_ms, channel, for_good, reason) VALUES ($1, $2, $3, 'sms', $4, $7), ($5, $2, $3, 'sms', $6, $8)",
					[ids.next(), sent, clock.nowMs(), false, ids.next(), true, "busy", "gone"],
				),
			);
			for (const body of ["help", "what?"])
				await replies.receive({ channel: "sms", channelMessageId: body, fromAddress: "+447700900002", body });
			await aTask(store, { areaId: "area", kind: "retest", dueAtMs: clock.nowMs() });
			await aTask(store, { areaId: "area", kind: "retest", dueAtMs: clock.nowMs() - 3_600_000, state: "done" });
			const message = (text: string, channel: string, outcome: string) =>
				sampleOf(text, `jarwatch_messages_total{channel="${channel}",outcome="${outcome}"}`);
			clock.advance(60_000);
			for (let asked = 0; asked < 2; asked++) {
				const { text } = await api.ask("GET", "/metrics");
				expect({
					accepted: message(text, "sms", "accepted"),
					refused: message(text, "sms", "refused for now"),
					failed: message(text, "sms", "failed for good"),
					withdrawn: message(text, "none", "withdrawn"),
					help: sampleOf(text, 'jarwatch_answers_total{result="help"}'),
					unclear: sampleOf(text, 'jarwatch_answers_total{result="unclear"}'),
					oldestS: sampleOf(text, "jarwatch_tasks_oldest_open_age_seconds"),
				}).toEqual({ accepted: 2, refused: 1, failed: 1, withdrawn: 1, help: 1, unclear: 1, oldestS: 60 });
			}
		} finally {
			await api.close();
		}
	});

	it("tell how long sweeps took, by a histogram of those that ended well", async () => {
		const store = await newStore(kind);
		try {
			let told: (seconds: number) => void = () => undefined;
			const onSwept = (to: typeof told) => {
				told = to;
			};
			const metrics = new Metrics(store, new VirtualClock(0), { sinceLastGoodMs: () => 0, onSwept });
			for (const seconds of [0.01, 0.3, 70]) told(seconds);
			const { text } = await metrics.text();
			const within = (le: string) => sampleOf(text, `jarwatch_sweep_duration_seconds_bucket{le="${le}"}`);
			expect([within("0.02"), within("0.5"), within("60"), within("+Inf")]).toEqual([1, 2, 2, 3]);
		} finally {
			await store.remove();
		}
	});

	it("are read from indexes: no statement looks through a table", async () => {
		const store = await newStore(kind);
		try {
			const clock = new VirtualClock(THURSDAY_NOON_MS);
			const metrics = new Metrics(store, clock, undefined);
			clock.advance(60_000);
			const asked = jest.spyOn(store, "query");
			await metrics.text();
			const statements = asked.mock.calls.map(([statement, parameters]) => [statement, parameters ?? []] as const);
			asked.mockRestore();
			expect(statements.length).toBeGreaterThan(8);
			for (const [statement, parameters] of statements) {
				const plan = await store.work.run(async (tx) => {
					if (kind === "postgres") await tx.query("SET LOCAL enable_seqscan = off");
					return tx.query(`EXPLAIN ${kind === "sqlite" ? "QUERY PLAN " : ""}${statement}`, parameters);
				});
				expect({ statement, plan: JSON.stringify(plan) }).toMatchObject({
					plan: expect.not.stringMatching(/Seq Scan|SCAN (?!\w+ USING)/),
				});
			}
		} finally {
			await store.remove();
		}
	});
});
