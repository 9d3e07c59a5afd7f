import { type ChildProcess, spawn } from "node:child_process";
import { existsSync } from "node:fs";
import { join } from "node:path";
import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Store } from "../../src/store/store.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { CountingPeer } from "../support/counting-peer.js";
import { makeDue, putJars } from "../support/due-jars.js";
import { newDatabase, onEachDatabase } from "../support/stores.js";

const JARS_A_ROUND = 30;
/** Sends at once of the process that is killed (one-process.mjs). */
const LANES = 4;

onEachDatabase("a process that is killed while it sweeps and dispatches", (kind) => {
	it.each([
		[100, 0],
		[25, 20],
	])(
		"loses nothing, doubles no task and no message, and hides at most one answer a lane at each kill: %d kills, a peer that answers after %d ms",
		async (KILLS, answersAfterMs) => {
			if (!existsSync(join(__dirname, "../../dist/src/duties/sweep.js")))
				throw new Error("the program isn't built: npm run build, then again");
			const chance = new SeededRandomness(42);
			const peer = new CountingPeer(answersAfterMs);
			const url = await peer.start();
			const database = await newDatabase(kind);
			const open = () => Store.open({ location: database.location, entities, migrations });
			try {
				let store = await open();
				await putJars(store, KILLS * JARS_A_ROUND, () => null);
				let recorded = new Set<string>();
				let sentAfterRecord = 0;
				let mostHidden = 0;
				for (let round = 0; round < KILLS; round++) {
					await makeDue(store, round * JARS_A_ROUND, (round + 1) * JARS_A_ROUND, Date.now());
					await store.close();
					const before = peer.keys.length;
					const child = process_(database.location, url);
					await said(child, "up");
					await peer.received(before + 1);
					await new Promise((resolve) => setTimeout(resolve, Math.round(chance.fraction() * 320)));
					await killed(child);
					sentAfterRecord += peer.keys.slice(before).filter((key) => recorded.has(key)).length;
					store = await open();
					recorded = new Set(
						(await store.query<{ k: string }>("SELECT id AS k FROM message WHERE state = 'sent'")).map(({ k }) => k),
					);
					// A try that ran out of time on a busy machine is on record too, as one whose answer nobody knows.
					const tried = await store.query<{ k: string }>("SELECT id AS k FROM message WHERE state = 'sent' OR tries > 0");
					const known = new Set(tried.map(({ k }) => k));
					mostHidden = Math.max(mostHidden, [...new Set(peer.keys.slice(before))].filter((key) => !known.has(key)).length);
				}
				const halfway = recorded.size;
				await store.close();
				// The last one is let alone until nothing is left, leases of the killed included.
				const last = process_(database.location, url);
				await drained(open, last);
				store = await open();
				const jars = KILLS * JARS_A_ROUND;
				expect(await store.query("SELECT count(*) AS tasks, count(DISTINCT subject_id) AS jars FROM task")).toEqual([
					{ tasks: jars, jars },
				]);
				expect(
					await store.query("SELECT state, count(*) AS n, count(DISTINCT idempotency_key) AS k FROM message GROUP BY state"),
				).toEqual([{ state: "sent", n: jars, k: jars }]);
				expect(await store.query("SELECT count(*) AS n FROM ledger_entry WHERE action = 'task opened'")).toEqual([{ n: jars }]);
				const counts = peer.counts();
				expect(counts.size).toBe(jars);
				expect(sentAfterRecord).toBe(0);
				const extra = peer.keys.length - counts.size;
				expect(mostHidden).toBeLessThanOrEqual(LANES);
				expect(extra).toBeLessThanOrEqual(KILLS * LANES);
				if (kind === "sqlite") expect(await store.query("PRAGMA integrity_check")).toEqual([{ integrityCheck: "ok" }]);
				await store.close();
				console.log(
					`${kind}: ${KILLS} kills, a peer that answers after ${answersAfterMs} ms, ${jars} reminders: ${extra} sent twice, at most ${mostHidden} a kill; ${halfway} were recorded while processes were being killed`,
				);
			} finally {
				await peer.stop();
				await database.remove();
			}
		},
		300_000,
	);
});

function process_(location: string, url: string): ChildProcess {
	return spawn(process.execPath, [join(__dirname, "one-process.mjs"), location, url], { stdio: ["ignore", "pipe", "inherit"] });
}

function said(child: ChildProcess, word: string): Promise<void> {
	return new Promise((resolve, reject) => {
		child.stdout?.on("data", (text: Buffer) => {
			if (text.toString().split("\n").includes(word)) resolve();
		});
		child.once("exit", (code) => reject(new Error(`the process ended with ${code} before it said "${word}"`)));
	});
}

async function killed(child: ChildProcess): Promise<void> {
	const gone = new Promise((resolve) => child.once("exit", resolve));
	child.removeAllListeners("exit");
	child.once("exit", () => undefined);
	const closed = new Promise((resolve) => child.once("close", resolve));
	child.kill("SIGKILL");
	await Promise.race([gone, closed]);
}

/** Waits until nothing is to be sent any more, then ends the process. */
async function drained(open: () => Promise<Store>, child: ChildProcess): Promise<void> {
	const store = await open();
	for (;;) {
		const [left] = await store.query<{ n: number }>(
			"SELECT (SELECT count(*) FROM message WHERE next_try_at_ms IS NOT NULL OR held_until_ms IS NOT NULL) + (SELECT count(*) FROM due WHERE due_at_ms IS NOT NULL) AS n",
		);
		if (left?.n === 0) break;
		await said(child, "idle");
	}
	await store.close();
	await killed(child);
}
