import type { Socket } from "node:net";
import pg from "pg";

/** What a pool gives each of its connections, and how long silence is borne. */
export interface WatchedOptions extends pg.ClientConfig {
	/** Milliseconds, above 0. */
	readonly patienceMs: number;
}

/** Answers that come slowly, byte by byte, are waited for over so many looks. */
const MOST_LOOKS = 12;
/** Where one of a pool's connections is dead, the others are suspected, and looked after so many times sooner. */
const SUSPECTED = 5;

/** What the server says of a connection that is silent. */
type Seen = "at work" | "blocked by its answer" | "not at work" | "unreachable";

/**
 * A connection to PostgreSQL that doesn't wait for ever. A server that is gone without a word, or a line that carries nothing any more,
 * looks like a statement that takes long. So where one is silent for a while, the server is asked over another connection whether it is at
 * work on it; where it isn't, or doesn't answer either, the silent connection is given up, and everybody who waits for it hears so.
 * Sources: PostgreSQL 15 manual, 28.2.3 (pg_stat_activity) and 55.2.4 (nothing in the protocol tells one from the other).
 */
export class WatchedClient extends pg.Client {
	private timer: NodeJS.Timeout | undefined;
	/** Of the statements that aren't answered yet; another one after each rest. */
	private waitingFor: object | undefined;
	private receivedBytes = 0;
	private readonly siblings: Set<WatchedClient>;
	/** Half of the patience goes by before the server is asked, the other half is the time for its answer. */
	private readonly stepMs: number;

	constructor(private readonly options: WatchedOptions) {
		super(options);
		this.stepMs = options.patienceMs / 2;
		this.siblings = siblingsIn(options);
		// Between the pool's listener and the ORM's a connection has none for a moment. Where the server ends it in the same breath in which it
		// is made, that error would end the process; so it only makes the connection useless, and whoever asks over it hears so.
		this.on("error", () => undefined);
		this.on("connect", () => this.siblings.add(this));
		this.on("drain", () => this.rest());
		this.on("end", () => {
			this.siblings.delete(this);
			this.rest();
		});
	}

	/** As the driver's, in each of its forms. */
	override query(...asked: unknown[]): never {
		const answer = (super.query as (...asked: unknown[]) => unknown).apply(this, asked);
		if (!this.waitingFor) {
			this.waitingFor = {};
			this.receivedBytes = this.socket.bytesRead;
			this.lookLater(1, this.stepMs);
		}
		return answer as never;
	}

	/** Tries whether it still answers; where it doesn't, it is given up. A connection that is in use by somebody doesn't mind. */
	private suspect(): void {
		if (this.waitingFor) return;
		this.query("SELECT 1", () => undefined);
		clearTimeout(this.timer);
		this.lookLater(1, this.stepMs / SUSPECTED);
	}

	private get socket(): Socket {
		return this.connection.stream as Socket;
	}

	private rest(): void {
		clearTimeout(this.timer);
		this.waitingFor = undefined;
	}

	private lookLater(look: number, afterMs: number): void {
		this.timer = setTimeout(() => void this.look(look), afterMs);
		// Whoever waits for the statement keeps the process alive; this mustn't.
		this.timer.unref();
	}

	private async look(look: number): Promise<void> {
		const { waitingFor } = this;
		const seen = await this.seenByServer();
		if (this.waitingFor !== waitingFor) return;
		const isComing = this.socket.bytesRead > this.receivedBytes;
		this.receivedBytes = this.socket.bytesRead;
		if (seen === "at work") return this.lookLater(1, this.stepMs);
		if (isComing && look < MOST_LOOKS) return this.lookLater(look + 1, this.stepMs);
		const why = seen === "unreachable" ? "the database doesn't answer" : "the line to the database carries nothing any more";
		const error = new Error(`${why}: given up after ${this.options.patienceMs / 1000} s`);
		this.socket.destroy(Object.assign(error, { code: "ETIMEDOUT" }));
		for (const sibling of [...this.siblings]) if (sibling !== this) sibling.suspect();
	}

	private async seenByServer(): Promise<Seen> {
		const other = new pg.Client({ ...this.options, connectionTimeoutMillis: this.stepMs, query_timeout: this.stepMs });
		// What goes wrong with it is told by the promises below.
		other.on("error", () => undefined);
		try {
			await other.connect();
			const { processID } = this as unknown as { processID: number };
			const { rows } = await other.query<{ state: string; wait_event: string | null }>(
				"SELECT state, wait_event FROM pg_stat_activity WHERE pid = $1",
				[processID],
			);
			const [session] = rows;
			const seen =
				session?.state !== "active" ? "not at work" : session.wait_event === "ClientWrite" ? "blocked by its answer" : "at work";
			// What it has locked mustn't wait until the server finds out by itself.
			if (seen !== "at work" && session?.state.startsWith("idle in transaction"))
				await other.query("SELECT pg_terminate_backend($1)", [processID]);
			return seen;
		} catch (error) {
			// A server that refuses one connection more is there.
			return String((error as { code?: unknown }).code).startsWith("53") ? "at work" : "unreachable";
		} finally {
			(other.connection.stream as Socket).destroy();
		}
	}
}

/** The connections of each pool, which gives all of them the same options. */
const byPool = new WeakMap<WatchedOptions, Set<WatchedClient>>();

function siblingsIn(options: WatchedOptions): Set<WatchedClient> {
	const known = byPool.get(options) ?? new Set();
	byPool.set(options, known);
	return known;
}
