import { claimReady } from "../../src/messages/claim.js";
import { Consents } from "../../src/personal/consents.js";
import { HOUR_MS } from "../../src/time/clock.js";
import { aMessage } from "../support/builders.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, settle, type World } from "../support/world.js";

onEachDatabase("consent", (kind) => {
	let world: World;
	let consents: Consents;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		consents = world.the(Consents);
	});
	afterAll(() => world.remove());

	const given = (givenAtMs: number, textVersion = "2026-1") =>
		({ purpose: "messages", textVersion, obtained: "on paper", givenAtMs }) as const;
	/** What stands in the way of a message that is ready for her now. */
	async function unwanted(): Promise<string | null | undefined> {
		const { id } = await aMessage(world.store, { recipientId: "vol", nextTryAtMs: world.clock.nowMs() });
		const claimed = await world.store.work.run((tx) =>
			claimReady(tx, world.clock.nowMs(), world.clock.nowMs() + HOUR_MS, 100, "bulk"),
		);
		await world.store.work.run((tx) => tx.affected("UPDATE message SET state = 'withdrawn', next_try_at_ms = NULL"));
		return claimed.find((message) => message.id === id)?.unwanted;
	}
	const policy = (personal: object) =>
		world.store.work.run((tx) =>
			tx.query(
				`INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', '', $1, 0)
				 ON CONFLICT (id) DO UPDATE SET policy = excluded.policy`,
				[JSON.stringify({ personal })],
			),
		);

	it("is recorded with its text's version, when and how; the same again changes nothing, a newer one takes its place", async () => {
		await consents.give("vol", given(START_MS - HOUR_MS));
		await consents.give("vol", given(START_MS - HOUR_MS));
		await consents.give("vol", { ...given(START_MS, "2026-2"), obtained: "in person" });
		expect(await consents.of("vol")).toMatchObject([
			{ textVersion: "2026-1", obtained: "on paper", givenAtMs: START_MS - HOUR_MS, withdrawnAtMs: START_MS },
			{ textVersion: "2026-2", obtained: "in person", givenAtMs: START_MS, withdrawnAtMs: null, withdrawnBy: null },
		]);
	});

	it("to messages that was taken back lets nothing go out to her, as a stop does, until she gives one again", async () => {
		expect(await unwanted()).toBeNull();
		await consents.takeBack("vol", "messages", "by phone");
		expect(await unwanted()).toBe("the person wants no messages");
		world.clock.advance(HOUR_MS);
		await expect(consents.give("vol", given(START_MS))).rejects.toMatchObject({ code: "conflict" });
		await consents.give("vol", given(world.clock.nowMs(), "2026-3"));
		expect(await unwanted()).toBeNull();
	});

	it("to messages is taken back by a text that says STOP", async () => {
		await world.replies.receive({ channel: "sms", channelMessageId: "stop", fromAddress: "+447700900002", body: "STOP" });
		const [last] = (await consents.of("vol")).slice(-1);
		expect(last).toMatchObject({ withdrawnAtMs: world.clock.nowMs(), withdrawnBy: "by message" });
		expect(await unwanted()).toBe("the person wants no messages");
		world.clock.advance(HOUR_MS);
		await consents.give("vol", given(world.clock.nowMs(), "2026-4"));
	});

	it("is asked for before the first message where the programme says so, of nobody where it doesn't", async () => {
		await world.store.work.run((tx) => tx.affected("UPDATE person SET consented_at_ms = NULL WHERE id = 'vol'"));
		await policy({});
		expect(await unwanted()).toBeNull();
		await policy({ consentBeforeMessages: true });
		expect(await unwanted()).toBe("the person hasn't consented to messages");
		world.clock.advance(HOUR_MS);
		await consents.give("vol", given(world.clock.nowMs(), "2026-5"));
		expect(await unwanted()).toBeNull();
	});

	it("of somebody whom there isn't, and one given tomorrow, are refused", async () => {
		await expect(consents.give("nobody", given(START_MS))).rejects.toMatchObject({ code: "unknown-subject", status: 404 });
		await expect(consents.give("vol", given(world.clock.nowMs() + HOUR_MS))).rejects.toMatchObject({ code: "time-in-future" });
	});
});
