// The smallest notifier that is a package of its own. Named in JARWATCH_NOTIFIERS by its package name once it is installed,
// or by its path: JARWATCH_NOTIFIERS=./tests/support/example-notifier/index.js

/** @param {{ settings: Record<string, string>, log: { info(fields: object, text: string): void } }} context */
module.exports = function exampleNotifier({ settings, log }) {
	const sent = [];
	log.info({ notifier: "example" }, "ready");
	return {
		name: "example",
		/** Kept for whoever wants to look. */
		sent,
		async send(message, signal) {
			if (signal.aborted) return { kind: "refused", reason: "too late", forGood: false };
			if (!message.recipient.phoneE164) return { kind: "refused", reason: "this person has no number", forGood: true };
			sent.push({ key: message.idempotencyKey, text: `${settings.greeting ?? ""}${message.text}` });
			return { kind: "accepted", answer: `number ${sent.length}` };
		},
		async close() {
			sent.length = 0;
		},
	};
};
