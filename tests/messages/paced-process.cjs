// A process that waits for so many turns of a channel and says when each came, epoch milliseconds.
require("reflect-metadata");
require("../support/from-source.cjs");
const { migrations } = require("../../migrations/index.ts");
const { entities } = require("../../src/entities.ts");
const { Pace } = require("../../src/messages/pace.ts");
const { SendSlots } = require("../../src/messages/send-slots.ts");
const { Store } = require("../../src/store/store.ts");

async function main([location, perSecond, turns]) {
	const store = await Store.open({ location, entities, migrations });
	const pace = new Pace({ sms: Number(perSecond) }, new SendSlots(store));
	const cameAtMs = [];
	const turn = () => pace.turn("sms", false).then(() => cameAtMs.push(Date.now()));
	await Promise.all(Array.from({ length: Number(turns) }, turn));
	await store.close();
	process.stdout.write(JSON.stringify(cameAtMs));
}
void main(process.argv.slice(2));
