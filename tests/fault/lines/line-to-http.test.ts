import { Outward } from "../../../src/messages/channels/outward.js";
import { WebhookNotifier } from "../../../src/messages/channels/webhook.js";
import { SystemClock } from "../../../src/time/clock.js";
import { CountingPeer } from "../../support/counting-peer.js";
import { keepsPromisesOverLine } from "./over-line.js";

keepsPromisesOverLine({
	name: "a receiver over HTTP",
	async peer() {
		const peer = new CountingPeer(20);
		const url = await peer.start();
		return {
			port: Number(new URL(url).port),
			// It knows a message by its key alone.
			taken: () => new Map([...peer.counts()].map(([key, count]) => [key, Array<string>(count).fill(key)])),
			close: () => peer.stop(),
		};
	},
	notifier: (port) =>
		new WebhookNotifier(
			{ url: `http://127.0.0.1:${port}/`, secret: `whsec_${Buffer.alloc(24, 7).toString("base64")}` },
			new SystemClock(),
			new Outward("allowed"),
		),
	knownAs: ({ messageId }) => messageId,
});
