import { SeededRandomness } from "../../../src/time/randomness.js";
import { areaFile, dueJarsFile, volunteersFile } from "../../support/jars-by-import.js";
import { type Crew, KEY } from "./crew.js";

/** How a request ended: its status, or why there was none. */
export type Ending = number | "no connection" | "no answer";

interface Asked {
	readonly ending: Ending;
	readonly tookMs: number;
	/** Whether something was wrong, or had been a moment ago, when it was asked. */
	readonly inTrouble: boolean;
	readonly route: string;
}

/** Whoever waits longer than this has been kept hanging. */
const HANGS_AFTER_MS = 60_000;
/** More requests on their way than this, and no new one is begun: the service is far behind. */
const MOST_AT_ONCE = 1000;
const JARS_A_FILE = 2;
/** So much is asked on the slowest machine, or nothing would be tried there. */
const LEAST_PER_SECOND = 5;

/** Asks the service as supervisors, volunteers and lists of new jars would, at a steady rate, and keeps what became of each request. */
export class Load {
	readonly asked: Asked[] = [];
	/** Not begun, because too many had no answer. */
	leftOut = 0;
	/** Tasks whose answer was taken. */
	readonly answered = new Set<string>();
	/** Jars that were taken. */
	readonly taken = new Set<string>();
	isInTrouble = false;
	private jars = 0;
	private atOnce = 0;
	private turn = 0;
	private readonly open = new Map<string, true>();
	private readonly chance = new SeededRandomness(5);

	constructor(private readonly crew: Crew) {}

	/** Requests a second that the service can answer at most, and that are asked of it. */
	capacityPerSecond = 0;
	ratePerSecond = 0;

	/** @param capacitySeconds for which it is measured how much the service can do */
	async prepare(capacitySeconds: number): Promise<void> {
		await this.ask("POST", "/imports/areas", areaFile());
		for (let i = 0; i < 20; i++) await this.give();
		if (this.asked.some(({ ending }) => ending !== 200))
			throw new Error(`what comes before the load wasn't taken: ${this.asked.map(({ ending }) => ending)}`);
		this.asked.length = 0;
		this.capacityPerSecond = await this.capacity(capacitySeconds);
		this.ratePerSecond = Math.max(LEAST_PER_SECOND, this.capacityPerSecond / 5);
	}

	/** Asks as fast as it is answered, eight at a time. @returns requests a second */
	private async capacity(seconds: number): Promise<number> {
		const one = async () => {
			while (performance.now() < untilMs) await this.something();
		};
		// What is done once in a process (code compiled, statements planned) mustn't count as slowness.
		let untilMs = performance.now() + (seconds * 1000) / 2;
		await Promise.all(Array.from({ length: 8 }, one));
		const before = this.asked.length;
		const beganMs = performance.now();
		untilMs = beganMs + seconds * 1000;
		await Promise.all(Array.from({ length: 8 }, one));
		const perSecond = ((this.asked.length - before) / (performance.now() - beganMs)) * 1000;
		this.asked.length = 0;
		return perSecond;
	}

	/** Begins a fifth of what the service can answer, whether those before are answered or not, until it is told to stop. */
	steady(): { stop(): Promise<void> } {
		const perSecond = this.ratePerSecond;
		const beganMs = performance.now();
		let begun = 0;
		const atWork = new Set<Promise<void>>();
		const timer = setInterval(() => {
			for (const due = ((performance.now() - beganMs) / 1000) * perSecond; begun < due; begun++) {
				if (this.atOnce >= MOST_AT_ONCE) {
					this.leftOut++;
					continue;
				}
				const one = this.something().finally(() => atWork.delete(one));
				atWork.add(one);
			}
		}, 20);
		return {
			async stop() {
				clearInterval(timer);
				await Promise.all(atWork);
			},
		};
	}

	private async something(): Promise<void> {
		const draw = this.chance.below(100);
		const [code] = this.open.keys();
		if (draw < 4) return this.give();
		if (draw < 20 && code !== undefined) return this.answer(code);
		if (draw < 40 && code !== undefined) return void (await this.ask("GET", `/tasks/${code}`));
		if (draw < 60) return void (await this.ask("GET", "/batches?limit=20"));
		const told = await this.ask("GET", "/tasks?state=open&sort=openedAt&limit=50");
		for (const task of (told?.["items"] ?? []) as { code: string; kind: string }[])
			if (task.kind === "retest stored bleach" && !this.answered.has(task.code)) this.open.set(task.code, true);
	}

	/** The same answer may come again where nobody knows whether it was taken: it bears the same key. */
	private async answer(code: string): Promise<void> {
		this.open.delete(code);
		const told = await this.ask("POST", `/tasks/${code}/answer`, { answer: "reading", reading: "2" }, `answer-${code}`);
		if (told) this.answered.add(code);
		else this.open.set(code, true);
	}

	private async give(): Promise<void> {
		const numbers = Array.from({ length: JARS_A_FILE }, () => this.jars++);
		if (!(await this.ask("POST", "/imports/people", volunteersFile(numbers)))) return;
		const told = await this.ask("POST", "/imports/batches", dueJarsFile(numbers));
		if (told?.["state"] === "imported") for (const n of numbers) this.taken.add(`J${n}`);
	}

	/** @returns the body of an answer of 200; none of any other */
	private async ask(
		method: "GET" | "POST",
		path: string,
		body?: unknown,
		key?: string,
	): Promise<Record<string, unknown> | undefined> {
		const { addresses } = this.crew;
		const address = addresses[this.turn++ % addresses.length];
		const inTrouble = this.isInTrouble;
		const beganMs = performance.now();
		let ending: Ending;
		let told: Record<string, unknown> | undefined;
		this.atOnce++;
		try {
			const response = await fetch(`${address}${path}`, {
				method,
				signal: AbortSignal.timeout(HANGS_AFTER_MS),
				headers: {
					authorization: `Bearer ${KEY}`,
					...(key ? { "idempotency-key": key } : {}),
					...(body === undefined ? {} : { "content-type": typeof body === "string" ? "text/csv" : "application/json" }),
				},
				...(body === undefined ? {} : { body: typeof body === "string" ? body : JSON.stringify(body) }),
			});
			const read = (await response.json()) as Record<string, unknown>;
			ending = response.status;
			if (ending === 200) told = read;
		} catch (error) {
			ending = (error as Error).name === "TimeoutError" ? "no answer" : "no connection";
		}
		this.atOnce--;
		const route = `${method} ${path.replace(/\?.*/, "").replace(/\/tasks\/[^/]+/, "/tasks/:code")}`;
		this.asked.push({ ending, tookMs: performance.now() - beganMs, inTrouble: inTrouble || this.isInTrouble, route });
		return told;
	}
}
