const { appendFile } = require("node:fs/promises");

// JARWATCH_NOTIFIER_EXAMPLE_FILE arrives as settings.EXAMPLE_FILE: the program knows nothing of it.
module.exports = ({ settings }) => ({
	name: "example",
	async send(message) {
		if (!message.recipient.phoneE164) return { kind: "refused", reason: "this channel needs a number", forGood: true };
		await appendFile(settings.EXAMPLE_FILE, `${message.recipient.phoneE164}\t${message.idempotencyKey}\t${message.text}\n`);
		return { kind: "accepted", answer: "appended" };
	},
});
