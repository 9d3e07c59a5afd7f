import { type ChildProcess, spawn } from "node:child_process";
import { createInterface } from "node:readline";
import { TEST_KEY } from "../../support/stores.js";
import type { Fact } from "./facts.js";
import { packedLife } from "./packed-life.js";

/** How a process is started. */
export interface LifeOptions {
	readonly location: string;
	/** Where it sends. */
	readonly url: string;
	/** None: hints go within the process. */
	readonly redisUrl?: string;
	readonly sendsAtOnce: number;
	readonly leaseMs: number;
	/** The point at which it ends itself with SIGKILL; empty: it only tells which it passes. */
	readonly dieAt?: string;
}

export interface Said {
	readonly loaded?: true;
	readonly up?: true;
	readonly rests?: true;
	/** The time that it has been moved to. */
	readonly at?: number;
	/** Keys of facts. */
	readonly kept?: string;
	readonly refused?: string;
	readonly code?: string;
	readonly passed?: string;
}

/** A process of the built program, to be killed (one-life.ts). */
export class Life {
	private readonly child: ChildProcess;
	private readonly gone: Promise<void>;
	private readonly closed: Promise<unknown>;
	private readonly hearers = new Set<(said: Said) => void>();
	private readonly loaded: Promise<Said>;
	/** Facts that it was told, and hasn't said are kept or refused. */
	readonly inDoubt = new Map<string, Fact>();
	/** Names of the points that it has passed. */
	readonly passed = new Set<string>();

	/** @param onKept hears which facts are kept, and which were refused with what code */
	constructor(
		readonly options: LifeOptions,
		onKept: (key: string, refusedWith: string | undefined) => void,
	) {
		const given = JSON.stringify({ ...options, key: TEST_KEY });
		this.child = spawn(process.execPath, [...packedLife(options.redisUrl !== undefined), given], {
			stdio: ["pipe", "pipe", "inherit"],
		});
		// A process that is killed reads no more; what was written to it then is no error.
		this.child.stdin?.on("error", () => undefined);
		this.gone = new Promise((resolve) => this.child.once("exit", () => resolve()));
		this.closed = new Promise((resolve) => this.child.once("close", resolve));
		createInterface({ input: this.child.stdout! }).on("line", (line) => {
			const said = JSON.parse(line) as Said;
			const key = said.kept ?? said.refused;
			if (key !== undefined) {
				this.inDoubt.delete(key);
				onKept(key, said.code);
			}
			if (said.passed !== undefined) this.passed.add(said.passed);
			for (const hearer of this.hearers) hearer(said);
		});
		this.loaded = this.says((said) => said.loaded === true);
		this.loaded.catch(() => undefined);
	}

	/** Lets it begin. Resolves when it is at work. */
	async begin(nowMs: number): Promise<void> {
		await this.loaded;
		const isUp = this.says((said) => said.up === true);
		this.write({ now: nowMs });
		await isUp;
	}

	/** Resolves when nothing of it is on its way; it begins nothing until its clock moves. */
	async rest(): Promise<void> {
		const rests = this.says((said) => said.rests === true);
		this.write({ rest: true });
		await rests;
	}

	async moveTo(nowMs: number): Promise<void> {
		const moved = this.says((said) => said.at === nowMs);
		this.write({ now: nowMs });
		await moved;
	}

	tell(fact: Fact): void {
		this.inDoubt.set(fact.key, fact);
		this.write(fact);
	}

	/** Ends it with SIGKILL; resolves when it is gone and all that it has said is heard. */
	async kill(): Promise<void> {
		if (this.child.exitCode !== null || this.child.signalCode !== null) throw new Error("it had ended by itself");
		this.child.kill("SIGKILL");
		await this.closed;
	}

	/** Resolves when it has ended itself at its point, and all that it has said is heard. */
	async dies(withinMs: number): Promise<void> {
		let timer: NodeJS.Timeout | undefined;
		const late = new Promise<never>((_, reject) => {
			timer = setTimeout(() => reject(new Error(`it never came to the point "${this.options.dieAt}"`)), withinMs);
		});
		await Promise.race([this.closed, late]).finally(() => clearTimeout(timer));
		if (this.child.signalCode !== "SIGKILL") throw new Error(`it ended with ${this.child.exitCode ?? this.child.signalCode}`);
	}

	/** Ends it in whatever state it is. */
	discard(): void {
		this.child.kill("SIGKILL");
	}

	private write(told: object): void {
		this.child.stdin?.write(`${JSON.stringify(told)}\n`);
	}

	private says(what: (said: Said) => boolean): Promise<Said> {
		return new Promise((resolve, reject) => {
			const hearer = (said: Said) => {
				if (!what(said)) return;
				this.hearers.delete(hearer);
				resolve(said);
			};
			this.hearers.add(hearer);
			void this.gone.then(() =>
				reject(new Error(`it ended (${this.child.exitCode ?? this.child.signalCode}) before it said so`)),
			);
		});
	}
}
