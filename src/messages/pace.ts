/** Timers are late by so many milliseconds at times. */
const LATE_MS = 20;

interface Waiting {
	readonly urgent: (() => void)[];
	readonly bulk: (() => void)[];
	nextMs: number;
	timer: NodeJS.Timeout | undefined;
}

/** So many messages a second through a channel and no more, evenly spread; an urgent one goes before all that waits. */
export class Pace {
	private readonly byChannel = new Map<string, Waiting>();

	/** @param perSecond messages a second by channel, above 0; a channel that isn't named has no limit */
	constructor(private readonly perSecond: Readonly<Record<string, number>> = {}) {}

	/** @returns whether a channel has a limit */
	limits(channel: string): boolean {
		return Object.hasOwn(this.perSecond, channel);
	}

	/** Resolves when it is this message's turn. */
	async turn(channel: string, urgent: boolean): Promise<void> {
		if (!this.limits(channel)) return;
		const waiting = this.byChannel.get(channel) ?? { urgent: [], bulk: [], nextMs: 0, timer: undefined };
		this.byChannel.set(channel, waiting);
		await new Promise<void>((resolve) => {
			waiting[urgent ? "urgent" : "bulk"].push(resolve);
			this.serve(channel, waiting);
		});
	}

	private serve(channel: string, waiting: Waiting): void {
		if (waiting.timer || waiting.urgent.length + waiting.bulk.length === 0) return;
		const nowMs = performance.now();
		const restMs = waiting.nextMs - nowMs;
		if (restMs > 0) {
			waiting.timer = setTimeout(() => {
				waiting.timer = undefined;
				this.serve(channel, waiting);
			}, Math.ceil(restMs));
			return;
		}
		// A timer that is late by a little is made up for; what wasn't used in a quiet hour isn't.
		const stepMs = 1000 / (this.perSecond[channel] as number);
		waiting.nextMs = (-restMs < Math.min(stepMs, LATE_MS) ? waiting.nextMs : nowMs) + stepMs;
		(waiting.urgent.shift() ?? waiting.bulk.shift())?.();
		this.serve(channel, waiting);
	}
}
