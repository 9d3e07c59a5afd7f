import type { Log } from "../log/log.js";
import { Again } from "../time/again.js";
import type { Clearing } from "./clearing.js";

/** How often it is looked whether a new day's clearing is due. */
const LOOK_MS = 30 * 60_000;
/** Until the first look: a start has better things to do. */
const FIRST_MS = 60_000;

/** Lets the clearing run once a day; a failed one is tried again at the next look. */
export class NightlyClearing {
	private readonly again: Again;

	constructor(clearing: Clearing, log: Log) {
		this.again = new Again(
			async () => {
				const cleared = await clearing.ofToday();
				if (cleared) log.info({ cleared }, "what was kept long enough is cleared");
			},
			LOOK_MS,
			(error) => log.warn({ err: error }, "the day's clearing failed and will be tried again"),
		);
	}

	start(): void {
		this.again.start(FIRST_MS);
	}

	stop(): Promise<void> {
		return this.again.stop();
	}
}
