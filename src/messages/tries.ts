import { setMaxListeners } from "node:events";
import { withoutSecrets } from "../log/log.js";
import type { Delivery, Notifier, Outgoing } from "./notifier.js";

/** Tries that begin within so many milliseconds share one clock: a timer and a signal for each would cost more than all the rest. */
const TOGETHER_MS = 5;

interface Deadline {
	readonly untilMs: number;
	readonly controller: AbortController;
	readonly timer: NodeJS.Timeout;
	/** Ends each try that hasn't been answered. */
	readonly open: Set<() => void>;
}

/** Tries through channels, each ended by its time-out whether the channel heeds the signal or not. */
export class Tries {
	private latest: Deadline | undefined;

	/** @param timeoutMs milliseconds until silence counts as refused for now */
	constructor(private readonly timeoutMs: number) {}

	/** @returns what the channel answered; an exception is "refused for now" with its words */
	of(notifier: Notifier, message: Outgoing): Promise<Delivery> {
		const deadline = this.deadline();
		return new Promise((resolve) => {
			const end = (delivery: Delivery) => {
				deadline.open.delete(silence);
				resolve(delivery);
			};
			const silence = () => end({ kind: "refused", reason: `no answer within ${this.timeoutMs / 1000} s`, forGood: false });
			const broken = (error: unknown) => end({ kind: "refused", reason: wordsOf(error), forGood: false });
			deadline.open.add(silence);
			try {
				notifier.send(message, deadline.controller.signal).then(end, broken);
			} catch (error) {
				broken(error);
			}
		});
	}

	private deadline(): Deadline {
		const nowMs = performance.now();
		const latest = this.latest;
		if (latest && nowMs < latest.untilMs) return latest;
		if (latest?.open.size === 0) clearTimeout(latest.timer);
		const controller = new AbortController();
		// Not 0, for "any number": this Node release then refuses to tell how many there may be, which an HTTP client asks.
		setMaxListeners(1_000_000, controller.signal);
		const open = new Set<() => void>();
		const timer = setTimeout(() => {
			for (const silence of [...open]) silence();
			controller.abort(new DOMException("the time for this try is up", "TimeoutError"));
		}, this.timeoutMs + TOGETHER_MS);
		// A send that nobody waits for any more mustn't keep the process alive.
		timer.unref();
		this.latest = { untilMs: nowMs + TOGETHER_MS, controller, timer, open };
		return this.latest;
	}
}

/** The error's own words and those of its causes: "fetch failed" alone says nothing, its cause says that the connection was refused. */
function wordsOf(error: unknown): string {
	const words: string[] = [];
	for (let at = error, depth = 0; isError(at) && depth < 3; at = at.cause, depth++) {
		const code = (at as { code?: unknown }).code;
		words.push(typeof code === "string" ? `${at.name} ${code}` : `${at.name}: ${at.message}`);
	}
	return withoutSecrets(words.join(", because of ") || "it threw something that is no error");
}

/** By its shape: a notifier from outside may throw what isn't an Error of this very context. */
function isError(value: unknown): value is Error {
	return typeof value === "object" && value !== null && "name" in value && typeof (value as Error).message === "string";
}
