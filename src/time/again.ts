/** Does one thing again and again, one round at a time; a round that fails is told of, and tried again at the next. */
export class Again {
	private timer: NodeJS.Timeout | undefined;
	private round: Promise<void> = Promise.resolve();
	private stopped = true;

	/**
	 * @param once a round; it asks `goesOn` where it could end early
	 * @param everyMs between the end of a round and the next
	 * @param failed hears of a round that failed
	 */
	constructor(
		private readonly once: (goesOn: () => boolean) => Promise<void>,
		private readonly everyMs: number,
		private readonly failed: (error: unknown) => void,
	) {}

	/** @param afterMs until the first round */
	start(afterMs = this.everyMs): void {
		if (!this.stopped) return;
		this.stopped = false;
		this.next(afterMs);
	}

	/** Takes no new round and waits for the one at work. */
	async stop(): Promise<void> {
		this.stopped = true;
		clearTimeout(this.timer);
		await this.round;
	}

	private next(afterMs: number): void {
		if (this.stopped) return;
		this.timer = setTimeout(() => {
			this.round = this.once(() => !this.stopped)
				.catch(this.failed)
				.finally(() => this.next(this.everyMs));
		}, afterMs);
	}
}
