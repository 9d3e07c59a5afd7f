import type { Scheduler } from "../../duties/scheduler.js";
import { type Waiting, waitingOf } from "../../ledger/sealer.js";
import type { Dispatcher } from "../../messages/dispatcher.js";
import type { WakeQueue } from "../../queue/wake-queue.js";
import type { Store } from "../../store/store.js";

export interface Part {
	readonly name: "database" | "schema" | "queue" | "sweep" | "channels" | "ledger";
	readonly ready: boolean;
	/** Why not, for whoever watches the service. */
	readonly why?: string;
	/** What should be mended though it is ready. */
	readonly concern?: string;
}

const MIB = 2 ** 20;
/** Less than this and a change may find no room for its pages. */
const FULL_BYTES = MIB;
/** So much is soon written: somebody should make room. */
const LITTLE_BYTES = 256 * MIB;

type AskedQueue = Pick<WakeQueue, "healthy"> & Partial<Pick<WakeQueue, "concern">>;

/** A part that doesn't answer in this time doesn't work. */
const PATIENCE_MS = 2_000;
/** So many intervals may pass without a good sweep before something is wrong. */
const MOST_INTERVALS = 3;

/** The ledger's sealing looks every few seconds, and longest waits for the longest unit of work. */
const SEALED_WITHIN_MS = 5 * 60_000;

/** Whether the service can do its work now, part by part. */
export class Readiness {
	private readonly startedMs = performance.now();

	/**
	 * @param scheduler absent where another process sweeps
	 * @param dispatcher absent where another process sends
	 */
	constructor(
		private readonly store: Store,
		private readonly queue: AskedQueue | undefined,
		private readonly scheduler: Pick<Scheduler, "sinceLastGoodMs"> | undefined,
		private readonly sweepMs: number,
		private readonly dispatcher?: Pick<Dispatcher, "circuitStates">,
		private readonly nowMs: () => number = () => 0,
	) {}

	async parts(): Promise<Part[]> {
		const parts = await Promise.all([
			this.databasePart(),
			checked("schema", () => this.schemaIsOurs()),
			...(this.queue ? [queuePart(this.queue)] : []),
			...(this.scheduler ? [checked("sweep", async () => this.sweptLately())] : []),
			...this.channelsPart(),
			this.ledgerPart(),
		]);
		return parts.flat();
	}

	/** A channel that rests makes nothing unready: messages wait for it, and urgent ones take another. */
	private channelsPart(): Part[] {
		const resting = (this.dispatcher?.circuitStates() ?? []).filter(({ circuit }) => circuit !== "closed");
		if (resting.length === 0) return [];
		const names = resting.map(({ channel }) => channel).join(", ");
		return [{ name: "channels", ready: true, concern: `failed too often in a row, and messages wait for it: ${names}` }];
	}

	/** Entries that wait are kept and counted; only where they lie for long, nobody seals. */
	private async ledgerPart(): Promise<Part[]> {
		let waiting: Waiting | undefined;
		const part = await checked("ledger", async () => {
			waiting = await waitingOf(this.store);
			return undefined;
		});
		const ageMs = waiting?.oldestAtMs == null ? 0 : this.nowMs() - waiting.oldestAtMs;
		if (!part.ready || ageMs <= SEALED_WITHIN_MS) return [];
		const concern = `${waiting?.entries} entries wait to be sealed, the oldest for ${Math.round(ageMs / 1000)} s`;
		return [{ ...part, concern }];
	}

	/** Reading goes on without room, and nothing else does. */
	private async databasePart(): Promise<Part> {
		let leftBytes: number | undefined;
		const part = await checked("database", async () => {
			await this.store.query("SELECT 1 AS one");
			leftBytes = await this.store.roomLeftBytes();
			return leftBytes !== undefined && leftBytes < FULL_BYTES ? "the disk on which it lies is full" : undefined;
		});
		if (!part.ready || leftBytes === undefined || leftBytes >= LITTLE_BYTES) return part;
		return { ...part, concern: `only ${Math.floor(leftBytes / MIB)} MiB are left on the disk on which it lies` };
	}

	/** A later release may have changed the database since this one started. */
	private async schemaIsOurs(): Promise<string | undefined> {
		const known = new Set(this.store.writer.migrations.map(({ name }) => name));
		const done = await this.store.query<{ name: string }>("SELECT name FROM migration");
		if (done.some(({ name }) => !known.has(name))) return "a later release has changed the database";
		return done.length < known.size ? "the schema isn't up to date" : undefined;
	}

	private sweptLately(): string | undefined {
		const ageMs = this.scheduler?.sinceLastGoodMs() ?? performance.now() - this.startedMs;
		return ageMs > MOST_INTERVALS * this.sweepMs + PATIENCE_MS
			? `no sweep has ended well for ${Math.round(ageMs / 1000)} s`
			: undefined;
	}
}

async function queuePart(queue: AskedQueue): Promise<Part> {
	const part = await checked("queue", () => queueAnswers(queue));
	const concern = queue.concern?.();
	return concern ? { ...part, concern } : part;
}

async function queueAnswers(queue: Pick<WakeQueue, "healthy">): Promise<string | undefined> {
	return (await queue.healthy()) ? undefined : "the queue can't be reached";
}

async function checked(name: Part["name"], check: () => Promise<string | undefined>): Promise<Part> {
	let timer: NodeJS.Timeout | undefined;
	const late = new Promise<string>((resolve) => {
		timer = setTimeout(() => resolve(`didn't answer within ${PATIENCE_MS / 1000} s`), PATIENCE_MS);
	});
	try {
		const why = await Promise.race([check(), late]);
		return why ? { name, ready: false, why } : { name, ready: true };
	} catch {
		// What the driver says may hold the database's address.
		return { name, ready: false, why: "can't be reached" };
	} finally {
		clearTimeout(timer);
	}
}
