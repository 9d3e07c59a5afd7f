import { samplePlan } from "../../src/audit/sample/plan.js";

const classify = { kind: "classify", targetShare: 0.8, lowerShare: 0.5, maximumAlpha: 0.1, maximumBeta: 0.1 } as const;
const estimate = { kind: "estimate", halfWidth: 0.1, expectedShare: 0.5, confidence: 0.95 } as const;
const simple = { kind: "simple" } as const;

describe("the size of a sample", () => {
	it("that tells 80 from 50 % with both risks to 10 % is 19 with the rule 13 (Valadez et al. 2003)", () => {
		expect(samplePlan(classify, simple, 100_000)).toMatchObject({
			households: 19,
			clusters: null,
			designEffect: 1,
			lot: { decisionRule: 13 },
		});
	});

	it("that estimates to 10 points is 97 of very many and 73 of 300 (Cochran 1977: 96.04, 72.9)", () => {
		expect(samplePlan(estimate, simple, 1_000_000).households).toBe(97);
		expect(samplePlan(estimate, simple, 300).households).toBe(73);
	});

	it("in clusters of 7 with a correlation of 1/6 is 28 of them (WHO's 30 by 7 before it is rounded)", () => {
		const method = { kind: "two stage", perCluster: 7, intraclassCorrelation: 1 / 6 } as const;
		expect(samplePlan(estimate, method, 1_000_000)).toMatchObject({ households: 196, clusters: 28, designEffect: 2 });
	});

	it("larger than the population is refused with both numbers", () => {
		expect(() => samplePlan({ kind: "size", households: 400 }, simple, 320)).toThrow(
			"A sample of 400 households is larger than the 320 there are: with that few, all of them can be visited.",
		);
	});

	it("that nothing could keep is refused, and says what would be right", () => {
		expect(() => samplePlan({ ...classify, lowerShare: 0.799 }, simple, 100_000)).toThrow(
			"No sample tells 0.8 from 0.799 with both risks kept: shares further apart, or larger risks, would be right.",
		);
	});
});
