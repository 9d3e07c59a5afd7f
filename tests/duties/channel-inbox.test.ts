import { pino } from "pino";
import { RepliesInbox } from "../../src/duties/inbox.js";
import { SmppNotifier } from "../../src/messages/channels/smpp/notifier.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { Receipts } from "../../src/messages/receipts.js";
import { smpp } from "../../src/settings/channels/smpp.js";
import { smppPeer } from "../support/smpp-peer.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle } from "../support/world.js";

onEachDatabase("a message centre on the other end", (kind) => {
	it("takes a task's text in segments, hands in the volunteer's answer and the receipts, and all of it is kept", async () => {
		const world = await newWorld(kind);
		const peer = await smppPeer();
		const log = pino({ level: "silent" });
		const settings = smpp.parse({ host: "127.0.0.1", port: peer.port, systemId: "jars", password: "invented", source: "Jars" });
		const receipts = new Receipts(
			world.store,
			world.clock,
			world.ids,
			() => undefined,
			() => ["smpp"],
		);
		const inbox = new RepliesInbox(world.replies, receipts);
		const notifier = new SmppNotifier({ settings, clock: world.clock, randomness: world.randomness, log, inbox });
		try {
			await settle(world);
			await aBatch(world);
			await world.live(20);
			const [task] = await world.tasks();
			const parts = { store: world.store, clock: world.clock, randomness: world.randomness, ids: world.ids, log };
			const dispatcher = new Dispatcher(
				{ ...parts, notifiers: new Map([["smpp", notifier]]) },
				{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8 },
			);
			world.clock.advance(24 * 3_600_000);
			await dispatcher.dispatchAll();
			await dispatcher.settled();
			expect(peer.submitted.length).toBeGreaterThan(0);
			const answer = { source_addr: "447700900002", data_coding: 0, short_message: `${task?.code} 3` };
			// A centre that heard no answer hands it in again.
			for (let i = 0; i < 2; i++) expect(await peer.deliver(answer)).toBe(0);
			const replies = await world.store.query("SELECT channel, person_id, task_id, outcome FROM reply");
			expect(replies).toEqual([{ channel: "smpp", personId: "vol", taskId: task?.id, outcome: "accepted" }]);
			for (let i = 1; i <= peer.submitted.length; i++)
				expect(await peer.deliver({ esm_class: 0x04, short_message: `id:id${i} stat:DELIVRD err:000` })).toBe(0);
			const states = await world.store.query("SELECT state, count(*) AS n FROM message_receipt GROUP BY state");
			expect(states).toEqual([{ state: "delivered", n: peer.submitted.length }]);
		} finally {
			await notifier.close();
			await peer.close();
			await world.remove();
		}
	});
});
