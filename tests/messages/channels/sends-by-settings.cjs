// A process that sends one message by each of the settings on its standard input, and says what was answered. Which authorities vouch
// for a server is settled when a process begins, so that it takes one of its own.
require("reflect-metadata");
require("../../support/from-source.cjs");
const { text } = require("node:stream/consumers");
const { pino } = require("pino");
const { notifiersFrom } = require("../../../src/messages/channels/registry.ts");
const { settingsFrom } = require("../../../src/settings/settings.ts");
const { SystemClock } = require("../../../src/time/clock.ts");
const { outgoing } = require("./a-message.ts");

async function main() {
	const deliveries = [];
	for (const environment of JSON.parse(await text(process.stdin))) {
		const context = { clock: new SystemClock(), log: pino({ level: "silent" }), out: process.stderr };
		const notifiers = await notifiersFrom({ ...context, settings: settingsFrom(environment) });
		for (const notifier of notifiers.values()) {
			const send = async () => notifier.send(outgoing(), AbortSignal.timeout(10_000));
			deliveries.push(await send().catch(({ message, cause }) => ({ kind: "thrown", message, code: cause?.code })));
			await notifier.close();
		}
	}
	process.stdout.write(JSON.stringify(deliveries));
}
void main();
