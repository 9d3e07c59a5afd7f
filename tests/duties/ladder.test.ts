import { beginsAnew, climbOf, ladderOf } from "../../src/duties/ladder.js";
import { policyFrom } from "../../src/programme/policy.js";
import { HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";

const FRIDAY_MS = Date.UTC(2026, 2, 6, 14);
/** Quiet from 18:00 to 08:00 UTC, Monday to Friday. */
const OFFICE_HOURS = { timeZone: "UTC", workingDays: [1, 2, 3, 4, 5], quietFrom: "18:00", quietUntil: "08:00" };

const steps = (policy: object, kind = "retest stored bleach") => ladderOf(policyFrom(policy), kind);
const taken = (ladder: ReturnType<typeof steps>, times?: typeof OFFICE_HOURS) => {
	const instants: [string, string][] = [];
	let step = 0;
	for (let nowMs = FRIDAY_MS; nowMs < FRIDAY_MS + 14 * 24 * HOUR_MS; nowMs += MINUTE_MS) {
		const climb = climbOf(ladder, step, FRIDAY_MS, nowMs, times);
		for (const { to } of climb.steps) instants.push([new Date(nowMs).toISOString().slice(0, 16), to]);
		step = climb.ladderStep;
		if (climb.nextStepAtMs === null) return instants;
	}
	throw new Error("the ladder has no end");
};

describe("a ladder", () => {
	it("asks again after 24 h and tells the supervisor after 48 h where the programme says nothing else, and ends", () => {
		expect(taken(steps({}))).toEqual([
			["2026-03-07T14:00", "assignee"],
			["2026-03-08T14:00", "supervisor"],
		]);
	});

	it("counts minutes, repeats a step as often as it says, and goes up to the health office", () => {
		const ladder = [
			{ afterMinutes: 20, to: "assignee", times: 3, everyHours: 0.5 },
			{ afterHours: 1, to: "supervisor", urgent: true },
			{ afterHours: 2, to: "health office" },
		];
		expect(taken(steps({ ladder }))).toEqual([
			["2026-03-06T14:20", "assignee"],
			["2026-03-06T14:50", "assignee"],
			["2026-03-06T15:00", "supervisor"],
			["2026-03-06T15:20", "assignee"],
			["2026-03-06T16:00", "health office"],
		]);
	});

	it("counts the assignee's working hours where a step says so: 6 h from Friday 14:00 are over on Monday at 10:00", () => {
		expect(taken(steps({ ladder: [{ afterHours: 6, to: "assignee", clock: "working" }] }), OFFICE_HOURS)).toEqual([
			["2026-03-09T10:00", "assignee"],
		]);
	});

	it("is another one for a kind of work that the rules name, and may have no step", () => {
		const policy = { ladders: { "water check": [{ afterMinutes: 30, to: "supervisor" }], "clean container": [] } };
		expect(taken(steps(policy, "water check"))).toEqual([["2026-03-06T14:30", "supervisor"]]);
		expect(climbOf(steps(policy, "clean container"), 0, FRIDAY_MS, FRIDAY_MS, undefined).nextStepAtMs).toBeNull();
		expect(taken(steps(policy)).length).toBe(2);
		expect(taken(steps(policy, "constructor")).length).toBe(2);
	});

	it("writes to each at most once where several steps have passed unseen", () => {
		const ladder = steps({ ladder: [{ afterHours: 1, to: "assignee", times: 5, everyHours: 1 }] });
		const { steps: now, ladderStep, nextStepAtMs } = climbOf(ladder, 0, FRIDAY_MS, FRIDAY_MS + 20 * HOUR_MS, undefined);
		expect([now.map(({ number }) => number), ladderStep, nextStepAtMs]).toEqual([[5], 5, null]);
	});

	it("begins anew so long after its last step, counts on, and keeps its times within each round", () => {
		const ladder = steps({});
		const againMs = 7 * 24 * HOUR_MS;
		const at = (hours: number, taken: number) =>
			climbOf(ladder, taken, FRIDAY_MS, FRIDAY_MS + hours * HOUR_MS, undefined, againMs);
		expect((at(48, 1).nextStepAtMs! - FRIDAY_MS) / HOUR_MS).toBe(48 + 168 + 24);
		expect(at(48 + 168 + 24, 2).steps.map(({ to, number }) => [to, number])).toEqual([["assignee", 3]]);
		expect(at(48 + 168 + 48, 3).steps.map(({ to, number }) => [to, number])).toEqual([["supervisor", 4]]);
		expect([1, 2, 3, 4].map((taken) => beginsAnew(ladder, taken))).toEqual([false, true, false, true]);
		// One without a step has nothing to begin anew.
		expect(climbOf([], 0, FRIDAY_MS, FRIDAY_MS, undefined, againMs).nextStepAtMs).toBeNull();
	});

	it.each([
		["two times in one step", { afterHours: 1, afterMinutes: 5, to: "assignee" }, "/ladder/0"],
		["no time", { to: "assignee" }, "/ladder/0"],
		["repeats without an interval", { afterHours: 1, to: "assignee", times: 2 }, "/ladder/0/everyHours"],
		["somebody it doesn't know", { afterHours: 1, to: "neighbour" }, "/ladder/0/to"],
	])("is refused with %s, and says where", (_, step, at) => {
		expect(() => policyFrom({ ladder: [step] })).toThrow(at);
	});
});
