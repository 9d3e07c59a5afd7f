import { Crew } from "./soak/crew.js";
import { Load } from "./soak/load.js";
import { expectPromisesKept, keepFigures, withEverything } from "./soak/promises.js";
import { shuffled, soaked } from "./soak/soak.js";
import { killsAndLines, restarts } from "./soak/troubles.js";

/** Two hours with a fault each minute by JARWATCH_TEST_SOAK_SECONDS=7200 JARWATCH_TEST_FAULT_EVERY_SECONDS=60. */
const SECONDS = Number(process.env["JARWATCH_TEST_SOAK_SECONDS"] ?? 17);
const EVERY_SECONDS = Number(process.env["JARWATCH_TEST_FAULT_EVERY_SECONDS"] ?? 0.8);
/** Ten minutes, PostgreSQL every 10 s and Redis every 5 s, by JARWATCH_TEST_RESTARTS_SECONDS=600 JARWATCH_TEST_RESTART_EVERY_SECONDS=10. */
const RESTARTS_SECONDS = Number(process.env["JARWATCH_TEST_RESTARTS_SECONDS"] ?? 8);
const RESTART_EVERY_SECONDS = Number(process.env["JARWATCH_TEST_RESTART_EVERY_SECONDS"] ?? 2);
/** Whoever runs this for long wants to know what the machine can do more exactly. */
const CAPACITY_SECONDS = Math.max(SECONDS, RESTARTS_SECONDS) > 500 ? 30 : 1;
const SETTLED_MS = 600_000;

withEverything("six processes under a fifth of the load that they can bear", () => {
	let crew: Crew;
	let load: Load;
	beforeAll(async () => {
		crew = await Crew.begun();
		load = new Load(crew);
		await load.prepare(CAPACITY_SECONDS);
	}, SETTLED_MS);
	afterAll(() => crew?.end());

	it(
		`lose and double nothing in ${SECONDS} s with a fault every ${EVERY_SECONDS} s: killed, cut off from PostgreSQL, Redis and a peer in six ways each`,
		async () => {
			const troubles = [...killsAndLines(crew), ...(SECONDS > 60 ? restarts(crew) : [])];
			const seen = await soaked(crew, load, {
				seconds: SECONDS,
				everySeconds: EVERY_SECONDS,
				heldSeconds: Math.min(10, EVERY_SECONDS / 2),
				troubles: shuffled(troubles, 8),
			});
			keepFigures("soak", seen);
			expectPromisesKept(seen);
		},
		SECONDS * 1000 + SETTLED_MS,
	);

	it(
		`lose and double nothing, and none ends, in ${RESTARTS_SECONDS} s in which PostgreSQL is restarted every ${RESTART_EVERY_SECONDS} s and Redis emptied twice as often, or killed and back empty`,
		async () => {
			const seen = await soaked(crew, load, {
				seconds: RESTARTS_SECONDS,
				everySeconds: RESTART_EVERY_SECONDS / 2,
				heldSeconds: RESTART_EVERY_SECONDS / 10,
				troubles: restarts(crew),
			});
			keepFigures("restarts", seen);
			expectPromisesKept(seen);
		},
		RESTARTS_SECONDS * 1000 + SETTLED_MS,
	);

	it(
		"wait where they are started while PostgreSQL and Redis are away, say so, and come up by themselves",
		async () => {
			await crew.redis.kill();
			await crew.postgres.stop("fast");
			const begun = await Promise.all(["api 2", "worker 2"].map((name) => crew.replace(name)));
			const lines = await Promise.all(begun.map((each) => each.says("the database can't be reached; the start waits for it")));
			expect(lines.map((line) => JSON.parse(line))).toEqual(
				Array(2).fill(expect.objectContaining({ level: 40, givesUpAfterSeconds: 300, reason: expect.stringMatching(/./) })),
			);
			await crew.postgres.start();
			await Promise.all(begun.map((each) => each.ready()));
			expect(await begun[0]?.ask("GET", "/health/ready")).toMatchObject({ status: 503, body: { code: "not-ready" } });
			await crew.redis.start();
			for (const untilMs = performance.now() + 60_000; (await begun[0]?.ask("GET", "/health/ready"))?.status !== 200; ) {
				expect(performance.now()).toBeLessThan(untilMs);
				await new Promise((resolve) => setTimeout(resolve, 200));
			}
			expect(crew.endedByItself()).toEqual([]);
		},
		SETTLED_MS,
	);

	it(
		"end in order when they are told to",
		async () => {
			expect(await crew.stopped()).toEqual(Array(6).fill("SIGTERM"));
		},
		SETTLED_MS,
	);
});
