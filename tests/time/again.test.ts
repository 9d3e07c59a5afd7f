import { Again } from "../../src/time/again.js";

describe("what is done again and again", () => {
	beforeEach(() => void jest.useFakeTimers());
	afterEach(() => void jest.useRealTimers());

	it("begins a round 50 ms after the one before has ended, and never two at once", async () => {
		const ends: (() => void)[] = [];
		const again = new Again(
			() => new Promise<void>((end) => void ends.push(end)),
			50,
			() => undefined,
		);
		again.start(0);
		again.start(0);
		await jest.advanceTimersByTimeAsync(200);
		expect(ends).toHaveLength(1);
		ends[0]?.();
		await jest.advanceTimersByTimeAsync(49);
		expect(ends).toHaveLength(1);
		await jest.advanceTimersByTimeAsync(1);
		expect(ends).toHaveLength(2);
		ends[1]?.();
		await again.stop();
	});

	it("goes on after a round that failed, and tells of it", async () => {
		const failures: unknown[] = [];
		let rounds = 0;
		const once = async () => {
			if (++rounds === 1) throw new Error("the first fails");
		};
		const again = new Again(once, 50, (error) => void failures.push(error));
		again.start();
		await jest.advanceTimersByTimeAsync(100);
		expect({ rounds, failures }).toEqual({ rounds: 2, failures: [new Error("the first fails")] });
		await again.stop();
	});

	it("tells the round at work to end, waits for it, and begins no other", async () => {
		let end: () => void = () => undefined;
		const said: boolean[] = [];
		const again = new Again(
			async (goesOn) => {
				said.push(goesOn());
				await new Promise<void>((resolve) => {
					end = resolve;
				});
				said.push(goesOn());
			},
			50,
			() => undefined,
		);
		again.start(0);
		await jest.advanceTimersByTimeAsync(0);
		let isStopped = false;
		const stopped = again.stop().then(() => {
			isStopped = true;
		});
		await jest.advanceTimersByTimeAsync(500);
		expect({ said, isStopped }).toEqual({ said: [true], isStopped: false });
		end();
		await stopped;
		await jest.advanceTimersByTimeAsync(500);
		expect(said).toEqual([true, false]);
	});
});
