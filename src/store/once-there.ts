import { TransientError } from "../errors/errors.js";
import type { Log } from "../log/log.js";

export interface StartWait {
	/** Milliseconds for which a database that is away is waited for; 0: it is asked once. */
	readonly waitMs: number;
	readonly log: Pick<Log, "info" | "warn">;
	/** Milliseconds that count up, whatever the clock does. */
	readonly nowMs?: () => number;
	readonly rest?: (ms: number) => Promise<void>;
}

const SHORTEST_REST_MS = 250;
const LONGEST_REST_MS = 5_000;
/** That often the log says that it is still waited for. */
const SAYS_AGAIN_MS = 15_000;

/**
 * Does what a start can't do without the database, again and again for as long as the database is away for now: servers that come up
 * together needn't come up in order. Any other error is thrown at once.
 * @throws TransientError `database-busy` where the time is up, with what was wrong at the last try
 */
export async function onceThere<T>(what: () => Promise<T>, wait: StartWait): Promise<T> {
	const { waitMs, log, nowMs = () => performance.now(), rest = resting } = wait;
	const beganMs = nowMs();
	const waitedSeconds = () => Math.round((nowMs() - beganMs) / 1000);
	let saidMs: number | undefined;
	for (let restMs = SHORTEST_REST_MS; ; restMs = Math.min(LONGEST_REST_MS, restMs * 2)) {
		try {
			const done = await what();
			if (saidMs !== undefined) log.info({ waitedSeconds: waitedSeconds() }, "the database is there");
			return done;
		} catch (error) {
			if (!(error instanceof TransientError) || waitMs === 0) throw error;
			const leftMs = beganMs + waitMs - nowMs();
			if (leftMs <= 0) throw timeIsUp(waitMs, error);
			if (saidMs === undefined || nowMs() - saidMs >= SAYS_AGAIN_MS) {
				saidMs = nowMs();
				const seconds = { waitedSeconds: waitedSeconds(), givesUpAfterSeconds: waitMs / 1000 };
				log.warn(
					{ ...seconds, reason: reasonOf(error) },
					"the database can't be reached; the start waits for it, and nothing is answered until then",
				);
			}
			await rest(Math.min(restMs, leftMs));
		}
	}
}

function timeIsUp(waitMs: number, last: TransientError): TransientError {
	return new TransientError(
		"database-busy",
		`The database couldn't be reached for ${waitMs / 1000} s, and this process gives up its start. See that the server runs and that JARWATCH_DATABASE_URL names it; JARWATCH_START_SECONDS says how long a start waits. The last that was heard: ${reasonOf(last)}`,
		{ cause: last },
	);
}

function reasonOf(error: unknown): string {
	const { cause, message } = error as Error;
	if (cause instanceof Error) return reasonOf(cause);
	// Node tells of several addresses that were tried without a word of its own.
	return message || String((error as { code?: unknown }).code);
}

const resting = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));
