import { Withheld } from "../../src/duties/withheld.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { HOUR_MS } from "../../src/time/clock.js";
import { served } from "../api/served.js";
import { aMessage } from "../support/builders.js";
import { named, TestNotifier } from "../support/notifiers.js";
import { onEachDatabase } from "../support/stores.js";

onEachDatabase("what waited when a backup was made", (kind) => {
	it("is withheld with a record, sent by no dispatcher, and goes in its person's time once somebody says so", async () => {
		const api = await served(kind);
		try {
			const { world } = api;
			const { store, clock, ids, randomness } = world;
			// 23:00 at the volunteer's, who sleeps from 20:00 to 06:00.
			clock.advance(15 * HOUR_MS);
			const nowMs = clock.nowMs();
			const ready = { recipientId: "vol", readyAtMs: nowMs, nextTryAtMs: nowMs };
			await aMessage(store, { id: "plain", text: "jar.weak", ...ready });
			await aMessage(store, { id: "urgent", text: "jar.weak", urgent: true, ...ready });
			await aMessage(store, { id: "claimed", text: "jar.weak", state: "claimed", claim: 1, ...ready });
			await aMessage(store, {
				id: "work",
				text: "retest.first",
				state: "held",
				heldUntilMs: nowMs,
				...ready,
				readyAtMs: null,
				nextTryAtMs: null,
			});
			await aMessage(store, { id: "code", text: "signIn.code", urgent: true, ...ready });
			await aMessage(store, { id: "gone", text: "jar.weak", state: "sent", ...ready, nextTryAtMs: null, endedAtMs: nowMs });
			const withheld = world.the(Withheld);
			expect(await withheld.withhold()).toBe(4);
			expect(await withheld.withhold()).toBe(0);
			expect(await states()).toEqual({
				claimed: "withheld",
				code: "withdrawn",
				gone: "sent",
				plain: "withheld",
				urgent: "withheld",
				work: "withheld",
			});
			const notifier = new TestNotifier();
			const dispatcher = new Dispatcher(
				{ store, clock, randomness, ids, notifiers: named(notifier), log: { debug() {}, info() {}, warn() {}, error() {} } },
				{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8 },
			);
			await dispatcher.dispatchReady();
			await world.live(2);
			await dispatcher.dispatchReady();
			expect(notifier.sent).toEqual([]);
			expect((await api.ask("GET", "/messages?state=withheld")).body.items).toHaveLength(4);
			expect((await api.ask("POST", "/messages/gone/release")).status).toBe(409);
			expect((await api.ask("POST", "/messages/nothing/release")).status).toBe(404);
			expect((await api.ask("POST", "/messages/urgent/release")).body).toEqual({ messages: 1 });
			expect((await api.ask("POST", "/messages/release-withheld")).body).toEqual({ messages: 3 });
			const released = await store.query<{ id: string; state: string; nextTryAtMs: number | null; heldUntilMs: number | null }>(
				"SELECT id, state, next_try_at_ms, held_until_ms FROM message WHERE state IN ('waiting', 'held') ORDER BY id",
			);
			const atMs = clock.nowMs();
			const inTheMorning = atMs + 7 * HOUR_MS;
			expect(released).toEqual([
				{ id: "claimed", state: "waiting", nextTryAtMs: inTheMorning, heldUntilMs: null },
				{ id: "plain", state: "waiting", nextTryAtMs: inTheMorning, heldUntilMs: null },
				{ id: "urgent", state: "waiting", nextTryAtMs: atMs, heldUntilMs: null },
				{ id: "work", state: "held", nextTryAtMs: null, heldUntilMs: atMs },
			]);
			expect(await actions()).toEqual(["messages withheld", "withheld messages released", "withheld messages released"]);

			async function states() {
				const rows = await store.query<{ id: string; state: string }>("SELECT id, state FROM message");
				return Object.fromEntries(rows.map(({ id, state }) => [id, state]));
			}
			async function actions() {
				const rows = await store.query<{ action: string }>(
					"SELECT action FROM ledger_entry WHERE subject_kind = 'outbox' ORDER BY id",
				);
				return rows.map(({ action }) => action);
			}
		} finally {
			await api.close();
		}
	});

	it("ends unsent where somebody says so", async () => {
		const api = await served(kind);
		try {
			const { store, clock } = api.world;
			await aMessage(store, {
				id: "one",
				recipientId: "vol",
				text: "jar.weak",
				readyAtMs: clock.nowMs(),
				nextTryAtMs: clock.nowMs(),
			});
			const withheld = api.world.the(Withheld);
			await withheld.withhold();
			expect((await withheld.list()).map(({ id, recipientCode }) => [id, recipientCode])).toEqual([["one", "vol"]]);
			expect(await withheld.dropAll()).toBe(1);
			expect(await store.query("SELECT state, next_try_at_ms FROM message")).toEqual([{ state: "withdrawn", nextTryAtMs: null }]);
		} finally {
			await api.close();
		}
	});
});
