/** Counts what has been claimed and hasn't begun to be sent. */
export class Backlog {
	private count = 0;
	private waiting: (() => void)[] = [];

	/** @param limit there is room while fewer than this many wait, at least 1 */
	constructor(private readonly limit: number) {}

	add(messages: number): void {
		this.count += messages;
	}

	begun(): void {
		if (--this.count >= this.limit || this.waiting.length === 0) return;
		const waiting = this.waiting;
		this.waiting = [];
		for (const resolve of waiting) resolve();
	}

	/** Resolves when there is room. */
	async room(): Promise<void> {
		if (this.count >= this.limit) await new Promise<void>((resolve) => this.waiting.push(resolve));
	}
}
