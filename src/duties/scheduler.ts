import { from } from "../ledger/origin.js";
import type { Log } from "../log/log.js";
import { Again } from "../time/again.js";
import type { AbsenceDays } from "./absence-days.js";
import type { DoseNews } from "./dose-news.js";
import type { Escalation } from "./escalation.js";
import type { ForecastsAnew } from "./forecasts-anew.js";
import type { LongWaiting } from "./long-waiting.js";
import type { Sweep } from "./sweep.js";

/** Sweeps and escalates again and again. */
export class Scheduler {
	private readonly again: Again;
	/** When the last round ended well, by the monotonic clock; readiness looks at it. */
	private lastGoodMs: number | undefined;

	private swept: (seconds: number) => void = () => undefined;

	constructor(
		private readonly sweep: Sweep,
		private readonly escalation: Escalation,
		private readonly longWaiting: LongWaiting,
		private readonly anew: ForecastsAnew,
		private readonly doseNews: DoseNews,
		private readonly absences: AbsenceDays,
		/** What looks at what a round has left, one after the other. */
		private readonly afterwards: readonly (() => Promise<unknown>)[],
		private readonly everyMs: number,
		private readonly log: Log,
	) {
		this.again = new Again(
			(goesOn) => from("scheduler", () => this.once(goesOn)),
			everyMs,
			(error) => log.warn({ err: error }, "a sweep failed and will be tried again"),
		);
	}

	start(): void {
		this.again.start(0);
	}

	/** Takes no new round and waits for the one at work. */
	stop(): Promise<void> {
		return this.again.stop();
	}

	/** @returns how long ago the last good round ended; none where there was none yet */
	sinceLastGoodMs(): number | undefined {
		return this.lastGoodMs === undefined ? undefined : performance.now() - this.lastGoodMs;
	}

	/** @param told of how long each round took that ended well */
	onSwept(told: (seconds: number) => void): void {
		this.swept = told;
	}

	private async once(goesOn: () => boolean): Promise<void> {
		const startedMs = performance.now();
		// Who goes or comes back today is asked, or isn't, for what falls due today.
		const passed = await this.absences.pass();
		// The sweep is last: what all have to tell a person goes out together.
		const takenBack = await this.longWaiting.takeBack();
		const climbed = await this.escalation.climb();
		const opened = await this.sweep.openDue();
		await this.doseNews.tell();
		this.lastGoodMs = performance.now();
		this.swept((this.lastGoodMs - startedMs) / 1000);
		for (const look of this.afterwards) await look();
		await this.forecastAnew(goesOn);
		if (opened + climbed + takenBack + passed > 0) this.log.info({ opened, climbed, takenBack, absences: passed }, "sweep");
	}

	/** What is due comes first: forecasts are made anew for as long as there would be a rest, and the next round goes on with it. */
	private async forecastAnew(goesOn: () => boolean): Promise<void> {
		const untilMs = performance.now() + this.everyMs;
		const made = await this.anew.work(() => goesOn() && performance.now() < untilMs);
		if (made > 0) this.log.info({ made }, "forecasts made anew");
	}
}
