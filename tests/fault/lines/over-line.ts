import { pino } from "pino";
import { Dispatcher } from "../../../src/messages/dispatcher.js";
import type { Notifier } from "../../../src/messages/notifier.js";
import { HOUR_MS, VirtualClock } from "../../../src/time/clock.js";
import { Ids } from "../../../src/time/ids.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { aMessage, anArea, aPerson, THURSDAY_NOON_MS } from "../../support/builders.js";
import { FAULTS, type Fault, faultyLine } from "../../support/faulty-line.js";
import { newStore } from "../../support/stores.js";

/** Longer than a try takes over the delayed line, on a machine ten times slower too. */
export const ANSWER_SECONDS = 2;
const REMINDERS = 6;
/** Everything has gone out within this, once the line carries again. */
const MENDED_WITHIN_MS = 60_000;

/** A peer that takes messages, and how it calls what it has taken. */
export interface CountedPeer {
	readonly port: number;
	/** How often it has taken what goes to a person, in the words in which it knows her; the values are the keys that came with it. */
	taken(): ReadonlyMap<string, readonly string[]>;
	close(): Promise<void>;
}

export interface LinePeer {
	readonly name: string;
	peer(): Promise<CountedPeer>;
	notifier(port: number): Notifier;
	/** How the peer knows a person. */
	knownAs(person: { readonly phoneE164: string; readonly email: string; readonly messageId: string }): string;
}

/** What can't have reached the peer before the line was whole again. */
const NOTHING_REACHES: readonly Fault[] = ["half-open", "refuse"];

/** Six faults of the line to a peer: nothing hangs, everything goes out, and twice only what may have gone already, under the same key. */
export function keepsPromisesOverLine({ name, peer: newPeer, notifier: newNotifier, knownAs }: LinePeer): void {
	describe(`over a line to ${name} that fails`, () => {
		it.each(FAULTS)(
			`ends every try, loses none of ${REMINDERS} reminders and sends none twice without cause: %s`,
			async (fault) => {
				const store = await newStore("sqlite");
				const peer = await newPeer();
				// So slow that no answer comes in time.
				const line = await faultyLine(peer.port, { delayMs: 30, bytesPerSecond: 60 });
				const clock = new VirtualClock(THURSDAY_NOON_MS);
				const notifier = newNotifier(line.port);
				const dispatcher = new Dispatcher(
					{
						store,
						clock,
						randomness: new SeededRandomness(1),
						ids: new Ids(clock, new SeededRandomness(1)),
						notifiers: new Map([[notifier.name, notifier]]),
						log: pino({ level: "silent" }),
					},
					{ leaseMs: 60_000, sendTimeoutMs: ANSWER_SECONDS * 1000, sendTries: 1_000_000, sendConcurrency: REMINDERS + 2 },
				);
				const area = await anArea(store);
				const reminder = async (n: number) => {
					const person = { phoneE164: `+4477009${String(n).padStart(5, "0")}`, email: `invented-${n}@example.org` };
					const { id } = await aPerson(store, { areaId: area.id, ...person });
					const message = await aMessage(store, { recipientId: id });
					return { id: message.id, as: knownAs({ ...person, messageId: message.id }) };
				};
				const states = () =>
					store.query<{ id: string; state: string; claim: number }>("SELECT id, state, claim FROM message ORDER BY id");
				try {
					notifier.open();
					const first = await reminder(0);
					await goneOut(dispatcher, clock, async () => (await states()).every(({ state }) => state === "sent"));

					const told = await Promise.all(Array.from({ length: REMINDERS }, (_, i) => reminder(i + 1)));
					await line.be(fault);
					// It resolves: no try waits for ever.
					expect(await dispatcher.dispatchReady()).toBe(REMINDERS);
					if (NOTHING_REACHES.includes(fault)) expect([...peer.taken().keys()]).toEqual([first.as]);
					if (fault === "delay") expect((await states()).filter(({ state }) => state === "sent").length).toBeGreaterThan(1);
					const before = new Map((await states()).map(({ id, claim }) => [id, claim]));
					await line.be("none");
					await goneOut(dispatcher, clock, async () => (await states()).every(({ state }) => state === "sent"));

					const taken = peer.taken();
					expect([...taken.keys()].sort()).toEqual([first, ...told].map(({ as }) => as).sort());
					const claims = new Map((await states()).map(({ id, claim }) => [id, claim]));
					for (const { id, as } of told) {
						const keys = taken.get(as) as readonly string[];
						expect(new Set(keys).size).toBe(1);
						// Each send has a claim of its own.
						const sends = (claims.get(id) as number) - (NOTHING_REACHES.includes(fault) ? (before.get(id) as number) : 0);
						expect(keys.length).toBeLessThanOrEqual(sends);
					}
				} finally {
					await dispatcher.stop(ANSWER_SECONDS * 1000);
					await notifier.close();
					await line.close();
					await peer.close();
					await store.remove();
				}
			},
			120_000,
		);
	});
}

/** Tries again and again, hours apart by the clock of the program, until it is so. */
async function goneOut(dispatcher: Dispatcher, clock: VirtualClock, isSo: () => Promise<boolean>): Promise<void> {
	const untilMs = performance.now() + MENDED_WITHIN_MS;
	while (!(await isSo())) {
		if (performance.now() > untilMs) throw new Error("messages wait though the line is whole");
		await dispatcher.dispatchReady();
		await new Promise((resolve) => setTimeout(resolve, 20));
		clock.advance(5 * HOUR_MS);
	}
}
