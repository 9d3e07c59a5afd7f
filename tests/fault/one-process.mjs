// One process of the built program that sweeps and dispatches until it is killed: the parts of the composition without the
// interface, so that it is up within a moment. It says "up" when it begins, and "idle" whenever nothing is left to do.
import "reflect-metadata";
import { migrations } from "../../dist/migrations/index.js";
import { DutyKinds } from "../../dist/src/duties/kinds.js";
import { dutyKinds } from "../../dist/src/duties/list.js";
import { Sweep } from "../../dist/src/duties/sweep.js";
import { entities } from "../../dist/src/entities.js";
import { newLog } from "../../dist/src/log/log.js";
import { Outward } from "../../dist/src/messages/channels/outward.js";
import { WebhookNotifier } from "../../dist/src/messages/channels/webhook.js";
import { Dispatcher } from "../../dist/src/messages/dispatcher.js";
import { Calendars } from "../../dist/src/stock/places.js";
import { Keyring } from "../../dist/src/store/sealing/keyring.js";
import { Store } from "../../dist/src/store/store.js";
import { SystemClock } from "../../dist/src/time/clock.js";
import { Ids } from "../../dist/src/time/ids.js";
import { SystemRandomness } from "../../dist/src/time/randomness.js";

const [location, url, key] = process.argv.slice(2);
const clock = new SystemClock();
const randomness = new SystemRandomness();
const ids = new Ids(clock, randomness);
const log = newLog("silent");
const store = await Store.open({ location, entities, migrations, keys: new Keyring([key]) });
const kinds = new DutyKinds(dutyKinds({ ids, calendars: new Calendars() }));
const sweep = new Sweep(store, clock, randomness, ids, kinds, () => undefined);
const webhook = new WebhookNotifier(
	{ url, secret: `whsec_${Buffer.alloc(24, 7).toString("base64")}` },
	clock,
	new Outward("allowed"),
);
const dispatcher = new Dispatcher(
	{ store, clock, randomness, ids, notifiers: new Map([["webhook", webhook]]), log },
	{ leaseMs: 700, sendTimeoutMs: 500, sendTries: 7, sendConcurrency: 4, batchSize: 20 },
);
process.stdout.write("up\n");
for (;;) {
	const opened = await sweep.openDue();
	const sent = await dispatcher.dispatchReady();
	if (opened + sent > 0) continue;
	process.stdout.write("idle\n");
	await new Promise((resolve) => setTimeout(resolve, 20));
}
