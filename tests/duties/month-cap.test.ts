import { Digests } from "../../src/duties/digests.js";
import type { Store } from "../../src/store/store.js";
import { DAY_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { anArea, aPerson, clear, messages, THURSDAY_NOON_MS } from "../support/builders.js";
import { newStore, onEachDatabase } from "../support/stores.js";

const PEOPLE = 40;
const CAP = 17;

onEachDatabase("the cap on a month's segments", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let clock: VirtualClock;

	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(async () => {
		await clear(store);
		clock = new VirtualClock(THURSDAY_NOON_MS);
		const policy = JSON.stringify({ messages: { segmentsPerMonth: CAP } });
		await store.work.run(async (tx) => {
			await tx.query("DELETE FROM month_segments");
			await tx.query(
				"INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented', $1, 0) ON CONFLICT (id) DO UPDATE SET policy = excluded.policy",
				[policy],
			);
		});
		const areaId = (await anArea(store)).id;
		// One text of one segment for each.
		for (let i = 0; i < PEOPLE; i++) {
			const { id } = await aPerson(store, { areaId });
			await messages(store, 1, { recipientId: id, state: "held", heldUntilMs: clock.nowMs(), nextTryAtMs: null });
		}
	});

	const digests = (of: Store, peopleAPage: number, seed = peopleAPage) =>
		new Digests(of, clock, new Ids(clock, new SeededRandomness(seed)), () => undefined, peopleAPage);
	const states = async () =>
		Object.fromEntries(
			(await store.query<{ state: string; n: number }>("SELECT state, count(*) AS n FROM message GROUP BY state")).map(
				({ state, n }) => [state, Number(n)],
			),
		);

	it("of 17 lets 17 of 40 go in pages of 3 people, and none of the next day's", async () => {
		expect(await digests(store, 3).release()).toBe(CAP);
		expect(await states()).toEqual({ waiting: CAP, held: PEOPLE - CAP });
		clock.advance(DAY_MS);
		expect(await digests(store, 3).release()).toBe(0);
		expect(await states()).toEqual({ waiting: CAP, held: PEOPLE - CAP });
	});

	it("of 17 holds for four schedulers at once, whose pages are of 2, 3, 5 and 7 people, and 17 go", async () => {
		const stores = kind === "postgres" ? [store, await store.again()] : [store, store];
		const pages = [2, 3, 5, 7];
		const released = await Promise.all(pages.map((people, i) => digests(stores[i % 2] as Store, people).release()));
		expect(released.reduce((sum, each) => sum + each, 0)).toBe(CAP);
		expect(await states()).toEqual({ waiting: CAP, held: PEOPLE - CAP });
		if (stores[1] !== store) await stores[1]?.close();
	});

	it("counts what has gone by other ways before, and what of it was withdrawn no longer", async () => {
		const { id } = await aPerson(store, { areaId: (await anArea(store)).id });
		const [, other] = await messages(store, 2, {
			recipientId: id,
			state: "sent",
			segments: 5,
			nextTryAtMs: null,
			endedAtMs: clock.nowMs(),
		});
		expect(await digests(store, 50).release()).toBe(CAP - 10);
		await store.work.run((tx) => tx.query("UPDATE message SET state = 'withdrawn' WHERE id = $1", [other?.id]));
		clock.advance(DAY_MS);
		expect(await digests(store, 50).release()).toBe(5);
	});
});
