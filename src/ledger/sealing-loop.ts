import type { Log } from "../log/log.js";
import { Again } from "../time/again.js";
import { from } from "./origin.js";
import type { Sealer } from "./sealer.js";

/** Seals again and again what units of work have left. What is left at a stop waits in the database for the next start. */
export class SealingLoop {
	private readonly again: Again;

	constructor(sealer: Pick<Sealer, "seal">, everyMs: number, log: Log) {
		this.again = new Again(
			async (goesOn) => void (await from("sealing", () => sealer.seal(goesOn))),
			everyMs,
			(error) => log.warn({ err: error }, "the ledger couldn't be sealed; it will be tried again"),
		);
	}

	start(): void {
		this.again.start(0);
	}

	stop(): Promise<void> {
		return this.again.stop();
	}
}
