import { CAUSES, sharedOut } from "../../src/simulation/causes.js";

describe("what an unsafe household-day is put down to", () => {
	const sum = (shared: object) => Object.values(shared).reduce((total, share) => total + share, 0);

	it("is the water's where the meant dose would have left as little", () => {
		expect(sharedOut({ meant: 0.5, measured: 0.6, believed: 0.7, really: 0.4 }, "late")).toEqual({
			...{ water: 0.4, measured: 0, toldOtherwise: 0, late: 0 },
		});
	});

	it("is shared out in the order in which it came: the water's 0.1, the measuring's 0.2, the told dose's 0.3, and the bleach's 0.4", () => {
		const shared = sharedOut({ meant: 0.1, measured: 0.3, believed: 0.6, really: 1 }, "sun");
		expect(shared.water).toBeCloseTo(0.1, 12);
		expect(shared.measured).toBeCloseTo(0.2, 12);
		expect(shared.toldOtherwise).toBeCloseTo(0.3, 12);
		expect(shared.sun).toBeCloseTo(0.4, 12);
	});

	it("sums to what was unsafe, and nothing of it is negative, whatever helped in between", () => {
		for (const meant of [0, 0.3, 1])
			for (const measured of [0, 0.2, 0.8])
				for (const believed of [0, 0.5, 1])
					for (const really of [0, 0.4, 1]) {
						const shared = sharedOut({ meant, measured, believed, really }, "tested");
						expect(sum(shared)).toBeCloseTo(really, 12);
						for (const share of Object.values(shared)) expect(share).toBeGreaterThanOrEqual(0);
					}
	});

	it("has a name in the report for each", () => {
		expect(new Set(Object.values(CAUSES)).size).toBe(Object.keys(CAUSES).length);
	});
});
