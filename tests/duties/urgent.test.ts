import type { Answered } from "../../src/duties/kind.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("what a supervisor is told of an answer at 23:00 local time", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		await aBatch(world);
		await world.live(10);
		// 23:00 in Nairobi is 20:00 UTC; both sleep from 20:00 to 06:00.
		world.clock.moveTo(Math.ceil(world.clock.nowMs() / DAY_MS) * DAY_MS + 20 * HOUR_MS);
	});
	afterEach(() => world.remove());

	async function answeredAtNight(urgent: boolean, byPersonId: string | null = "vol"): Promise<Record<string, number | null>> {
		const told = { text: "jar.weak.supervisor", fill: { jar: "B1", strengthGPerL: 1 }, urgent };
		const answered: Answered = {
			accepted: true,
			state: "done",
			outcome: {},
			tell: { text: "jar.testFirst", fill: { jar: "B1" }, urgent },
			tellSupervisor: told,
			nextDueAtMs: null,
		};
		jest.spyOn(world.kinds.named("retest stored bleach"), "take").mockResolvedValueOnce(answered);
		const [task] = await world.tasks();
		await world.answers.take(task?.id ?? "", { kind: "done" }, byPersonId);
		const waits = (await world.messages())
			.slice(-2)
			.map((m) => [m.recipientId, ((m.nextTryAtMs ?? 0) - world.clock.nowMs()) / HOUR_MS]);
		return Object.fromEntries(waits);
	}
	const rule = (urgentBreaksQuietHours: boolean) =>
		world.store.work.run((tx) =>
			tx.affected("INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented', $1, 1)", [
				JSON.stringify({ urgentBreaksQuietHours }),
			]),
		);

	it("goes at once where it is urgent, and at 06:00 where it isn't; whoever answered is told at once", async () => {
		expect(await answeredAtNight(true)).toEqual({ vol: 0, sup: 0 });
	});
	it("waits for 06:00 where it isn't urgent", async () => {
		expect(await answeredAtNight(false)).toEqual({ vol: 0, sup: 7 });
	});
	it("waits for 06:00 where the programme's rules let nothing break quiet hours, however urgent", async () => {
		await rule(false);
		expect(await answeredAtNight(true)).toEqual({ vol: 0, sup: 7 });
	});
	it("doesn't wake the volunteer either when the office answered for her, unless it is urgent", async () => {
		expect(await answeredAtNight(false, null)).toEqual({ vol: 7, sup: 7 });
	});
});
