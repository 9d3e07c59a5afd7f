import type { WakeQueue } from "../../src/queue/wake-queue.js";

/** What every adapter of the port that wakes the dispatcher must do. */
export function wakeQueueContract(name: string, makeQueue: () => WakeQueue): void {
	describe(`the wake queue, ${name}`, () => {
		let queue: WakeQueue;
		const seen: string[] = [];
		beforeEach(() => {
			seen.length = 0;
			queue = makeQueue();
		});
		afterEach(() => queue.stop());

		const until = async (holds: () => boolean) => {
			const end = performance.now() + 10_000;
			while (!holds() && performance.now() < end) await new Promise((resolve) => setImmediate(resolve));
			expect(holds()).toBe(true);
		};

		it("gives each of 50 hints to the handler once, with its id", async () => {
			await queue.start(async (id) => void seen.push(id));
			const ids = Array.from({ length: 50 }, (_, i) => `01hint${i}`);
			queue.wake(ids);
			await until(() => seen.length >= 50);
			expect([...seen].sort()).toEqual([...ids].sort());
		});

		it("gives a hint of an id again when it is woken again after it was followed", async () => {
			await queue.start(async (id) => void seen.push(id));
			queue.wake(["again"]);
			await until(() => seen.length === 1);
			// A queue may still be putting the first one away: it is woken until the second one comes, as a look through the outbox would.
			const end = performance.now() + 10_000;
			while (seen.length < 2 && performance.now() < end) {
				queue.wake(["again"]);
				await new Promise((resolve) => setImmediate(resolve));
			}
			expect(seen.slice(0, 2)).toEqual(["again", "again"]);
		});

		it("goes on with other hints after a handler has thrown", async () => {
			await queue.start(async (id) => {
				seen.push(id);
				if (id === "bad") throw new Error("on purpose");
			});
			queue.wake(["bad", "good"]);
			await until(() => seen.includes("bad") && seen.includes("good"));
		});

		it("takes hints before anybody follows them, and takes none once it has stopped", async () => {
			queue.wake(["early"]);
			await queue.start(async (id) => void seen.push(id));
			await until(() => seen.includes("early"));
			await queue.stop();
			const count = seen.length;
			expect(() => queue.wake(["late"])).not.toThrow();
			expect(seen.length).toBe(count);
		});

		it("waits at an orderly stop for the hints at work, and begins none of those that wait", async () => {
			let release: () => void = () => undefined;
			const stuck = new Promise<void>((resolve) => {
				release = resolve;
			});
			const ended: string[] = [];
			await queue.start(async (id) => {
				seen.push(id);
				await stuck;
				ended.push(id);
			});
			queue.wake(Array.from({ length: 20 }, (_, i) => `01hint${i}`));
			await until(() => seen.length > 0);
			let hasStopped = false;
			const stopping = queue.stop().then(() => {
				hasStopped = true;
			});
			for (const end = performance.now() + 300; performance.now() < end; ) await new Promise((resolve) => setImmediate(resolve));
			expect([hasStopped, ended]).toEqual([false, []]);
			release();
			await stopping;
			expect(ended).toEqual(seen);
			expect(seen.length).toBeLessThan(20);
		});

		it("can be reached", async () => {
			expect(await queue.healthy()).toBe(true);
		});
	});
}
