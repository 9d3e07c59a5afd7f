import { describe, expect, it } from "@jest/globals";
import { smallestLotSample } from "../../src/science/lot-sample.js";
import { lotRisks } from "../../src/science/lqas.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

const aims = { targetShare: 0.8, lowerShare: 0.5, maximumAlpha: 0.1, maximumBeta: 0.1 };

describe("the smallest sample that classifies a lot", () => {
	it("at 80 against 50 % with both risks to 10 % in a large lot is 19 with the rule 13, as the guide has it", () => {
		const found = smallestLotSample(aims, { kind: "simple", lotSize: 1_000_000 });
		expect(found).toMatchObject({ sampleSize: 19, decisionRule: 13 });
		const { alpha, beta } = published.lqas19.checks.find(({ target }) => target === 80) as { alpha: number; beta: number };
		expectNear(found?.alpha ?? 1, alpha, published.lqas19.tolerance);
		expectNear(found?.beta ?? 1, beta, published.lqas19.tolerance);
	});

	it("keeps both risks, and no smaller one has a rule that does", () => {
		for (const lotSize of [30, 57, 200]) {
			const found = smallestLotSample(aims, { kind: "simple", lotSize });
			expect(found).not.toBeNull();
			const { sampleSize, decisionRule, alpha, beta } = found as NonNullable<typeof found>;
			const design = { kind: "finite", lotSize } as const;
			expect(lotRisks({ ...aims, sampleSize, decisionRule, design })).toEqual({ alpha, beta });
			expect(Math.max(alpha, beta)).toBeLessThanOrEqual(0.1);
			for (let size = 1; size < sampleSize; size++)
				for (let rule = 0; rule <= size; rule++) {
					const risks = lotRisks({ ...aims, sampleSize: size, decisionRule: rule, design });
					expect(Math.max(risks.alpha, risks.beta)).toBeGreaterThan(0.1);
				}
		}
	});

	it("of clusters is larger the more their members resemble each other", () => {
		const sizes = [0, 0.1, 0.2].map(
			(intraclassCorrelation) =>
				smallestLotSample(aims, { kind: "clustered", perCluster: 5, intraclassCorrelation })?.sampleSize ?? 0,
		);
		expect(sizes[0]).toBe(20);
		expect(sizes).toEqual([...sizes].sort((a, b) => a - b));
		expect(new Set(sizes).size).toBe(3);
	});

	it("isn't there where nothing to be drawn tells two shares apart", () => {
		const close = { targetShare: 0.8, lowerShare: 0.79, maximumAlpha: 0.01, maximumBeta: 0.01 };
		expect(smallestLotSample(close, { kind: "simple", lotSize: 1_000_000 })).toBeNull();
	});

	it("is refused for a lower share that isn't under the target", () => {
		expect(() => smallestLotSample({ ...aims, lowerShare: 0.8 }, { kind: "simple", lotSize: 100 })).toThrow(
			"lower share must be 0 to",
		);
	});
});
