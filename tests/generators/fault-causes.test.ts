import { describe, expect, it } from "@jest/globals";
import { likelyCauses, saltEvidence } from "../../src/generators/fault-causes.js";

const shares = (evidence: Parameters<typeof likelyCauses>[0]) =>
	likelyCauses(evidence).map(({ cause, share }) => [cause, Math.round(share * 1000) / 1000]);

// The rule is this project's own (common practice, no source): 3 to 2 to 1, times what each finding says; reckoned here by hand.
describe("the likely causes of weak bleach", () => {
	it("are battery, electrode and salt in that order, 3 to 2 to 1, where nothing is known", () => {
		expect(shares({ battery: "unknown", electrode: "unknown", salt: "unknown" })).toEqual([
			["battery", 0.5],
			["electrode", 0.333],
			["salt", 0.167],
		]);
	});
	it("begin with an electrode whose efficiency fell, where the battery held enough: 12 to 0.75 to 0.25", () => {
		expect(shares({ battery: "enough", electrode: "fallen", salt: "right" })).toEqual([
			["electrode", 0.923],
			["battery", 0.058],
			["salt", 0.019],
		]);
	});
	it("begin with the battery where it didn't hold enough, though the efficiency fell too: 18 to 12 to 0.25", () => {
		expect(shares({ battery: "not enough", electrode: "fallen", salt: "right" })[0]).toEqual(["battery", 0.595]);
	});
	it("call salt short under 85 % of what was planned", () => {
		expect([saltEvidence(25.4, 30), saltEvidence(25.6, 30), saltEvidence(40, 30)]).toEqual(["short", "right", "right"]);
	});
});
