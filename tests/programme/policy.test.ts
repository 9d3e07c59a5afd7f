import { policyFrom } from "../../src/programme/policy.js";
import { KITS } from "../../src/science/kits.js";
import { kitNamed } from "../../src/stock/kits.js";

describe("a programme's rules", () => {
	it("name a kit of the science's list and no other, and say which there are", () => {
		for (const name of Object.keys(KITS)) expect(kitNamed(policyFrom({ testKit: name }).testKit)).toBeDefined();
		for (const testKit of ["tongue", "constructor", "", "Photometer"])
			expect(() => policyFrom({ testKit })).toThrow(/\/testKit must be one of comparator 0-5, .*dip strip/);
	});

	it("take doses of 0.5 to 10 mg/L and none beside: 0.5 mg/L is what must be left after the wait (WHO Guidelines for drinking-water quality)", () => {
		for (const dose of [0.5, 1.875, 10])
			expect(policyFrom({ doseMgPerL: { clear: dose, cloudy: dose } }).doseMgPerL.clear).toBe(dose);
		for (const dose of [0, 0.4999, 10.01, -1, "2"])
			expect(() => policyFrom({ doseMgPerL: { clear: dose, cloudy: 3.75 } })).toThrow(
				/\/doseMgPerL\/clear must be 0\.5 to 10 \(mg\/L\)/,
			);
	});
});
