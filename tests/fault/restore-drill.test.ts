import { type ChildProcess, spawn } from "node:child_process";
import { copyFileSync, existsSync, readdirSync, statSync, truncateSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import BetterSqlite3 from "better-sqlite3";
import { migrations } from "../../migrations/index.js";
import { addBackup } from "../../src/cli/backup/command.js";
import { exitCodeOf } from "../../src/cli/program.js";
import { addRestore } from "../../src/cli/restore/command.js";
import { Withheld } from "../../src/duties/withheld.js";
import { entities } from "../../src/entities.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { CountingPeer } from "../support/counting-peer.js";
import { putJars } from "../support/due-jars.js";
import { newDatabase, TEST_KEY, TEST_KEYS } from "../support/stores.js";

const JARS = 400;

const ANOTHER_KEY = "another+key+of+tests+AAAAAAAAAAAAAAAAAAAAAA=";

describe("a restore drill on SQLite", () => {
	it(`backs up while ${JARS} reminders are being sent, brings that back, has every row and a whole ledger, and sends nothing again until it is told to`, async () => {
		if (!existsSync(join(__dirname, "../../dist/src/duties/sweep.js")))
			throw new Error("the program isn't built: npm run build, then again");
		const peer = new CountingPeer(20);
		const url = await peer.start();
		const { location, remove } = await newDatabase("sqlite");
		const folder = dirname(location);
		const backup = join(folder, "backups-1.sqlite");
		const open = () => Store.open({ location, entities, migrations, keys: TEST_KEYS });
		const running = new Set<ChildProcess>();
		const sends = () => {
			const child = spawn(process.execPath, [join(__dirname, "one-process.mjs"), location, url, TEST_KEY], {
				stdio: ["ignore", "pipe", "inherit"],
			});
			running.add(child);
			return child;
		};
		/** So many reminders in all, or why they didn't. */
		const came = (count: number, child: ChildProcess) => Promise.race([peer.received(count), said(child, "never")]);
		const ended = async (child: ChildProcess) => {
			child.removeAllListeners("exit");
			child.kill("SIGKILL");
			await new Promise((resolve) => child.once("close", resolve));
			running.delete(child);
		};
		try {
			let store = await open();
			await putJars(store, JARS, () => Date.now());
			await store.close();

			const first = sends();
			await came(40, first);
			expect(await command(folder, "backup", backup)).toMatchObject({
				code: 0,
				out: expect.stringContaining("whole, with 20 people"),
			});
			expect(statSync(backup).mode & 0o777).toBe(0o600);
			const atBackup = peer.keys.length;
			expect(await command(folder, "backup", backup)).toMatchObject({
				code: 2,
				err: expect.stringContaining("is there already"),
			});
			expect(await command(folder, "restore", backup)).toMatchObject({
				code: 2,
				err: expect.stringContaining("Stop every process"),
			});

			await came(JARS, first);
			expect(atBackup).toBeLessThan(JARS);
			await said(first, "idle");
			await ended(first);
			const inBackup = await countsOf(backup);
			const before = peer.counts();

			const restored = await command(folder, "restore", backup);
			expect(restored).toMatchObject({ code: 0, err: "" });
			store = await open();
			const states = await statesOf(store);
			const notGone = inBackup.states["waiting"]! + (inBackup.states["claimed"] ?? 0);
			expect(notGone).toBeGreaterThan(0);
			expect(states).toEqual({ sent: inBackup.states["sent"], withheld: notGone });
			expect(restored.out).toContain(`${notGone} messages that waited to be sent are withheld`);
			const { people, batches, tasks } = await countsOf(location);
			expect({ people, batches, tasks }).toEqual({ people: 20, batches: JARS, tasks: inBackup.tasks });
			const { findings } = await verifyLedger(store);
			expect(findings).toEqual([]);
			const noted = await store.query<{ action: string }>(
				"SELECT action FROM ledger_entry WHERE origin = 'command restore' ORDER BY id",
			);
			expect(noted.map(({ action }) => action)).toEqual(["messages withheld", "backup restored"]);
			await store.close();
			const [aside] = readdirSync(folder).filter((name) => name.includes(".before-"));
			expect((await countsOf(join(folder, aside as string))).states).toEqual({ sent: JARS });

			const second = sends();
			await said(second, "idle");
			await said(second, "idle");
			await ended(second);
			expect(peer.counts()).toEqual(before);

			store = await open();
			const clock = new SystemClock();
			const ids = new Ids(clock, new SystemRandomness());
			expect(await new Withheld(store, clock, ids, () => undefined).releaseAll()).toBe(notGone);
			await store.close();
			const third = sends();
			await came(JARS + notGone, third);
			await said(third, "idle");
			await ended(third);
			// Each that was let go bears the key that it had: whoever has it knows it again.
			expect(peer.keys.length).toBe(JARS + notGone);
			expect(peer.counts().size).toBe(JARS);
		} finally {
			for (const child of running) child.kill("SIGKILL");
			await peer.stop();
			await remove();
		}
	}, 120_000);

	it("leaves what is there as it is where the backup is cut off, is no database, has an entry put into its ledger, or rests under another key", async () => {
		const { location, remove } = await newDatabase("sqlite");
		const folder = dirname(location);
		const file = (name: string) => join(folder, name);
		try {
			const store = await Store.open({ location, entities, migrations, keys: TEST_KEYS });
			await putJars(store, 50, () => null);
			await store.close();
			expect(await command(folder, "backup", file("good"))).toMatchObject({ code: 0 });
			const whole = await countsOf(location);

			writeFileSync(file("text"), "no database at all\n".repeat(100));
			copyFileSync(file("good"), file("short"));
			truncateSync(file("short"), Math.floor(statSync(file("good")).size / 2));
			copyFileSync(file("good"), file("added"));
			const added = new BetterSqlite3(file("added"));
			added.exec(
				`INSERT INTO ledger_entry (id, at_ms, actor, action, subject_kind, subject_id, detail, origin)
				 VALUES ('put in', 1, 'office', 'put in afterwards', 'batch', 'jar0', '{}', 'nowhere')`,
			);
			added.close();
			for (const name of ["text", "short", "added"])
				expect(await command(folder, "restore", file(name))).toMatchObject({
					code: 2,
					err: expect.stringContaining("isn't whole"),
				});
			const other = await command(folder, "restore", file("good"), ANOTHER_KEY);
			expect(other).toMatchObject({ code: 2, err: expect.stringContaining("under the key") });
			expect(await command(folder, "restore", file("nowhere"))).toMatchObject({ code: 2 });
			expect(await countsOf(location)).toEqual(whole);
			expect(
				readdirSync(folder)
					.filter((name) => !/-(wal|shm)$/.test(name))
					.sort(),
			).toEqual(["added", "good", "jarwatch.sqlite", "short", "text"]);
		} finally {
			await remove();
		}
	}, 60_000);
});

/** What a command printed and ended with, with the data folder and the key in its environment. */
async function command(folder: string, name: "backup" | "restore", file: string, key = TEST_KEY) {
	const before = { ...process.env };
	Object.assign(process.env, { JARWATCH_DATA_FOLDER: folder, JARWATCH_DATA_KEY: key });
	const told = { out: "", err: "" };
	try {
		const code = await exitCodeOf([name, file], [addBackup, addRestore], {
			out: (text) => {
				told.out += text;
			},
			err: (text) => {
				told.err += text;
			},
			write: async () => undefined,
		});
		return { code, ...told };
	} finally {
		process.env = before;
	}
}

async function countsOf(path: string) {
	const { withSqliteFile } = await import("../../src/store/sqlite-file.js");
	return withSqliteFile(path, async (on) => {
		const [row] = await on.query<{ people: number; batches: number; tasks: number }>(
			"SELECT (SELECT count(*) FROM person) AS people, (SELECT count(*) FROM batch) AS batches, (SELECT count(*) FROM task) AS tasks",
		);
		return { ...row!, states: await statesOf(on) };
	});
}

async function statesOf(on: Pick<Store, "query">): Promise<Record<string, number>> {
	const rows = await on.query<{ state: string; n: number }>("SELECT state, count(*) AS n FROM message GROUP BY state");
	return Object.fromEntries(rows.map(({ state, n }) => [state, n]));
}

function said(child: ChildProcess, word: string): Promise<void> {
	return new Promise((resolve, reject) => {
		const onText = (text: Buffer) => {
			if (!text.toString().split("\n").includes(word)) return;
			child.stdout?.off("data", onText);
			child.off("exit", onExit);
			resolve();
		};
		const onExit = (code: number | null) => reject(new Error(`the process ended with ${code} before it said "${word}"`));
		child.stdout?.on("data", onText);
		child.once("exit", onExit);
	});
}
