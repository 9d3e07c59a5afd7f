import { migrations } from "../../../migrations/index.js";
import { entities } from "../../../src/entities.js";
import { verifyLedger } from "../../../src/ledger/verify.js";
import { Store } from "../../../src/store/store.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { TEST_KEYS } from "../../support/stores.js";
import type { Crew } from "./crew.js";
import type { Load } from "./load.js";
import { Memory } from "./memory.js";
import type { Trouble } from "./troubles.js";

export interface SoakOptions {
	readonly seconds: number;
	/** From the beginning of one trouble to that of the next. */
	readonly everySeconds: number;
	readonly heldSeconds: number;
	/** In which they come: one after the other, and from the beginning again. */
	readonly troubles: readonly Trouble[];
}

/** What was seen, after everything has settled. */
export interface Soaked {
	readonly ranSeconds: number;
	readonly troubled: readonly string[];
	readonly load: Load;
	readonly memory: ReturnType<Memory["figures"]>;
	readonly outcome: Outcome;
}

/** What must hold after it, by what the database and the peer say. */
export interface Outcome {
	readonly jars: number;
	readonly tasks: number;
	readonly messages: number;
	/** Jars that were taken and aren't on file. */
	readonly jarsLost: readonly string[];
	/** Jars on file that were due and of which no task tells. */
	readonly jarsWithoutTask: number;
	/** Jars with more than one task for the same cycle. */
	readonly doubledTasks: number;
	/** Answers that were taken, and whose task isn't done. */
	readonly answersLost: readonly string[];
	/** Tasks for which the ledger tells more than once that they were opened or answered. */
	readonly doubledEntries: number;
	/** Messages that haven't come to an end. */
	readonly unsent: number;
	/** Recorded as sent, and the peer hasn't got them. */
	readonly lost: readonly string[];
	/** The peer got them and no message is called so. */
	readonly unknown: readonly string[];
	/** Sends beyond the first of a message. */
	readonly extraSends: number;
	/** Sent again without a claim of their own, or after the answer was recorded. */
	readonly extraWithoutCause: readonly string[];
	readonly ledger: { readonly entries: number; readonly findings: readonly string[] };
	/** Processes that ended though nobody had told them to. */
	readonly endedByThemselves: readonly string[];
}

/** Everything comes to rest within this: messages rest after failures, and keys of requests that were cut off are held for a minute. */
const SETTLED_WITHIN_MS = 300_000;

export async function soaked(crew: Crew, load: Load, options: SoakOptions): Promise<Soaked> {
	load.asked.length = 0;
	const beganMs = performance.now();
	const memory = new Memory(crew, Math.max(200, options.seconds));
	const going = load.steady();
	const troubled = await troubledFor(options, load);
	await going.stop();
	memory.stop();
	const ranSeconds = (performance.now() - beganMs) / 1000;
	await settled(crew);
	return { ranSeconds, troubled, load, memory: memory.figures(), outcome: await outcomeOf(crew, load) };
}

async function troubledFor({ seconds, everySeconds, heldSeconds, troubles }: SoakOptions, load: Load): Promise<string[]> {
	const told: string[] = [];
	const beganMs = performance.now();
	for (let round = 0; ; round++) {
		await until(beganMs + (round + 0.5) * everySeconds * 1000);
		if (performance.now() - beganMs > (seconds - everySeconds / 2) * 1000) return told;
		const trouble = troubles[round % troubles.length] as Trouble;
		load.isInTrouble = true;
		await trouble.begin();
		if (trouble.end) {
			await until(performance.now() + heldSeconds * 1000);
			await trouble.end();
		}
		told.push(trouble.name);
		// What a trouble leaves behind counts as its own for as long again.
		await until(performance.now() + heldSeconds * 1000);
		load.isInTrouble = false;
	}
}

const until = (atMs: number) => new Promise((resolve) => setTimeout(resolve, Math.max(0, atMs - performance.now())));

const UNSENT = "message WHERE state IN ('waiting', 'claimed', 'held')";
const WITHOUT_TASK = "batch b WHERE NOT EXISTS (SELECT 1 FROM task t WHERE t.subject_id = b.id)";

async function settled(crew: Crew): Promise<void> {
	const untilMs = performance.now() + SETTLED_WITHIN_MS;
	while (performance.now() < untilMs) {
		// In this order: a task that is opened between the two brings its message with it.
		if ((await crew.number(WITHOUT_TASK)) === 0 && (await crew.number(UNSENT)) === 0) return;
		await until(performance.now() + 300);
	}
}

async function outcomeOf(crew: Crew, load: Load): Promise<Outcome> {
	const codes = async (sql: string) => new Set((await crew.rows<{ code: string }>(sql)).map(({ code }) => code));
	const onFile = await codes("SELECT code FROM batch");
	const done = await codes("SELECT code FROM task WHERE state <> 'open'");
	const messages = await crew.rows<{ id: string; state: string; claim: number; endedAtMs: string | null }>(
		`SELECT id, state, claim, ended_at_ms AS "endedAtMs" FROM message`,
	);
	const byId = new Map(messages.map((message) => [message.id, message]));
	const counts = crew.peer.counts();
	const late = crew.peer.keys.filter((id, i) => {
		const endedAtMs = byId.get(id)?.endedAtMs;
		return endedAtMs != null && (crew.peer.cameAtMs[i] ?? 0) > Number(endedAtMs);
	});
	return {
		jars: onFile.size,
		tasks: await crew.number("task"),
		messages: messages.length,
		jarsLost: [...load.taken].filter((code) => !onFile.has(code)),
		jarsWithoutTask: await crew.number(WITHOUT_TASK),
		doubledTasks: await crew.number("(SELECT 1 FROM task GROUP BY kind, subject_id, cycle HAVING count(*) > 1) AS t"),
		answersLost: [...load.answered].filter((code) => !done.has(code)),
		doubledEntries: await crew.number(
			"(SELECT 1 FROM ledger_entry WHERE subject_kind = 'task' AND action IN ('task opened', 'task done') GROUP BY subject_id, action HAVING count(*) > 1) AS e",
		),
		unsent: await crew.number(UNSENT),
		lost: messages.filter(({ id, state }) => state === "sent" && !counts.has(id)).map(({ id }) => id),
		unknown: [...counts.keys()].filter((id) => !byId.has(id)),
		extraSends: crew.peer.keys.length - counts.size,
		extraWithoutCause: [...messages.filter(({ id, claim }) => (counts.get(id) ?? 0) > claim).map(({ id }) => id), ...late],
		endedByThemselves: crew.endedByItself(),
		ledger: await verified(crew),
	};
}

async function verified({ postgres }: Crew): Promise<Outcome["ledger"]> {
	const store = await Store.open({ location: postgres.url, entities, migrations, keys: TEST_KEYS });
	try {
		const { entries, findings } = await verifyLedger(store);
		return { entries, findings: findings.map((finding) => JSON.stringify(finding)) };
	} finally {
		await store.close();
	}
}

/** Troubles in an order by chance, the same for the same seed. */
export function shuffled<T>(given: readonly T[], seed: number): T[] {
	const chance = new SeededRandomness(seed);
	const left = [...given];
	return given.map(() => left.splice(chance.below(left.length), 1)[0] as T);
}
