import { pino } from "pino";
import { SmppNotifier } from "../../../src/messages/channels/smpp/notifier.js";
import { Inbox } from "../../../src/messages/inbox.js";
import { smpp } from "../../../src/settings/channels/smpp.js";
import { SystemClock } from "../../../src/time/clock.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { smppPeer } from "../../support/smpp-peer.js";
import { ANSWER_SECONDS, keepsPromisesOverLine } from "./over-line.js";

class NothingComesIn extends Inbox {
	async text(): Promise<void> {}
	async receipts(): Promise<void> {}
}

keepsPromisesOverLine({
	name: "a message centre",
	async peer() {
		const { port, submitted, close } = await smppPeer();
		return {
			port,
			// A message centre has no place for a key: the same number and words are the same message.
			taken() {
				const taken = new Map<string, string[]>();
				for (const { destination_addr: to, short_message: text } of submitted as unknown as Record<string, unknown>[])
					taken.set(String(to), [...(taken.get(String(to)) ?? []), JSON.stringify(text)]);
				return taken;
			},
			close,
		};
	},
	notifier: (port) =>
		new SmppNotifier({
			settings: smpp.parse({
				host: "127.0.0.1",
				port,
				systemId: "jars",
				password: "invented",
				source: "Jars",
				answerSeconds: ANSWER_SECONDS / 2,
				reconnectSeconds: 0.1,
				longestReconnectSeconds: 0.2,
			}),
			clock: new SystemClock(),
			log: pino({ level: "silent" }),
			randomness: new SeededRandomness(1),
			inbox: new NothingComesIn(),
		}),
	knownAs: ({ phoneE164 }) => phoneE164.slice(1),
});
