import { EmailNotifier } from "../../../src/messages/channels/email.js";
import { email } from "../../../src/settings/channels/email.js";
import { smtpPeer } from "../../support/smtp-peer.js";
import { ANSWER_SECONDS, keepsPromisesOverLine } from "./over-line.js";

keepsPromisesOverLine({
	name: "a mail server",
	peer: smtpPeer,
	notifier: (port) =>
		new EmailNotifier(
			email.parse({
				host: "127.0.0.1",
				port,
				tls: "none",
				from: "jars@example.org",
				answerSeconds: ANSWER_SECONDS,
				connections: 2,
			}),
		),
	knownAs: ({ email: address }) => address,
});
