import type { Log } from "../log/log.js";
import type { Escalation } from "./escalation.js";
import type { ForecastsAnew } from "./forecasts-anew.js";
import type { Sweep } from "./sweep.js";

/** Sweeps and escalates again and again; one round at a time, and a failed round is tried again at the next. */
export class Scheduler {
	private timer: NodeJS.Timeout | undefined;
	private round: Promise<void> = Promise.resolve();
	private stopped = true;
	/** When the last round ended well, by the monotonic clock; readiness looks at it. */
	private lastGoodMs: number | undefined;

	private swept: (seconds: number) => void = () => undefined;

	constructor(
		private readonly sweep: Sweep,
		private readonly escalation: Escalation,
		private readonly anew: ForecastsAnew,
		private readonly everyMs: number,
		private readonly log: Log,
	) {}

	start(): void {
		if (!this.stopped) return;
		this.stopped = false;
		this.next(0);
	}

	/** Takes no new round and waits for the one at work. */
	async stop(): Promise<void> {
		this.stopped = true;
		clearTimeout(this.timer);
		await this.round;
	}

	/** @returns how long ago the last good round ended; none where there was none yet */
	sinceLastGoodMs(): number | undefined {
		return this.lastGoodMs === undefined ? undefined : performance.now() - this.lastGoodMs;
	}

	/** @param told of how long each round took that ended well */
	onSwept(told: (seconds: number) => void): void {
		this.swept = told;
	}

	private next(afterMs: number): void {
		if (this.stopped) return;
		this.timer = setTimeout(() => {
			this.round = this.once().finally(() => this.next(this.everyMs));
		}, afterMs);
	}

	private async once(): Promise<void> {
		const startedMs = performance.now();
		try {
			// The sweep is last: what both have to tell a person goes out together.
			const climbed = await this.escalation.climb();
			const opened = await this.sweep.openDue();
			this.lastGoodMs = performance.now();
			this.swept((this.lastGoodMs - startedMs) / 1000);
			await this.forecastAnew();
			if (opened + climbed > 0) this.log.info({ opened, climbed }, "sweep");
		} catch (error) {
			this.log.warn({ err: error }, "a sweep failed and will be tried again");
		}
	}

	/** What is due comes first: forecasts are made anew for as long as there would be a rest, and the next round goes on with it. */
	private async forecastAnew(): Promise<void> {
		const untilMs = performance.now() + this.everyMs;
		const made = await this.anew.work(() => !this.stopped && performance.now() < untilMs);
		if (made > 0) this.log.info({ made }, "forecasts made anew");
	}
}
