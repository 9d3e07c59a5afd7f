/** So many things at once and no more; who waits is served in order. */
export class Slots {
	private readonly waiting: (() => void)[] = [];

	constructor(private free: number) {}

	/** Resolves when a slot is the caller's; it must be given back. */
	async take(): Promise<void> {
		if (this.free > 0) this.free--;
		else await new Promise<void>((resolve) => this.waiting.push(resolve));
	}

	give(): void {
		const next = this.waiting.shift();
		if (next) next();
		else this.free++;
	}
}
