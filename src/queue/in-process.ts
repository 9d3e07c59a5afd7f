import type { Log } from "../log/log.js";
import { WakeQueue } from "./wake-queue.js";

/** Hints within one process: enough where one process does everything. */
export class InProcessWakeQueue extends WakeQueue {
	private handler: ((messageId: string) => Promise<void>) | undefined;
	private readonly hints = new Set<string>();
	private working: Promise<void> | undefined;

	constructor(private readonly log: Log) {
		super();
	}

	wake(messageIds: readonly string[]): void {
		for (const id of messageIds) this.hints.add(id);
		this.work();
	}

	async start(handler: (messageId: string) => Promise<void>): Promise<void> {
		this.handler = handler;
		this.work();
	}

	async stop(): Promise<void> {
		this.handler = undefined;
		await this.working;
	}

	async healthy(): Promise<boolean> {
		return true;
	}

	private work(): void {
		if (this.working || !this.handler || this.hints.size === 0) return;
		this.working = this.handOver().finally(() => {
			this.working = undefined;
			this.work();
		});
	}

	/** One hint at a time. What a handler couldn't do is found again in the outbox. */
	private async handOver(): Promise<void> {
		for (const id of this.hints) {
			const { handler } = this;
			if (!handler) return;
			this.hints.delete(id);
			try {
				await handler(id);
			} catch (error) {
				this.log.warn({ err: error }, "a hint could not be followed; the outbox will be looked through");
			}
		}
	}
}
