import { from } from "../../ledger/origin.js";
import type { Log } from "../../log/log.js";
import { Again } from "../../time/again.js";
import type { HeadMail } from "./head-mail.js";

/** Looks again and again whether the ledger's head is to be mailed. */
export class HeadMailLoop {
	private readonly again: Again;

	constructor(mail: Pick<HeadMail, "post">, everyMs: number, log: Log) {
		this.again = new Again(
			async (goesOn) => {
				const sent = await from("head mail", () => mail.post(goesOn));
				if (sent > 0) log.info({ letters: sent }, "the ledger's head was mailed");
			},
			everyMs,
			(error) => log.warn({ err: error }, "the ledger's head couldn't be mailed; it will be tried again"),
		);
	}

	start(): void {
		this.again.start();
	}

	stop(): Promise<void> {
		return this.again.stop();
	}
}
