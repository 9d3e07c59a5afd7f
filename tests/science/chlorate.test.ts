import {
	CHLORATE_GUIDELINE_MG_PER_L,
	chlorateInStockMgPerL,
	chlorateInWaterMgPerL,
	strengthAtChlorateLimitGPerL,
} from "../../src/science/chlorate.js";
import { constantsWith, defaultConstants, uncertainConstants } from "../../src/science/constants.js";
import { CHLORATE_G_PER_MOL, CL2_G_PER_MOL } from "../../src/science/units.js";
import published from "../published/chlorate.json" with { type: "json" };

const pure = constantsWith({ freshChlorateShare: 0 });
const near = (actual: number, expected: number, tolerance: number) =>
	expect(Math.abs(actual - expected)).toBeLessThanOrEqual(tolerance);

describe("chlorate from lost chlorine", () => {
	// Source: 8.7 to 1 in rate, 3 and 2 OCl- an event, Adam & Gordon 1999, Inorg. Chem. 38:1299; computed independently.
	it("is 0.36439 g a gram of Cl2 lost, and 0.39231 if all of the loss makes it", () => {
		const { value, ifAllIsChlorate, shareOfLoss, tolerance } = published.yield;
		near((8.7 * 3) / (8.7 * 3 + 2), shareOfLoss, tolerance);
		near((shareOfLoss * CHLORATE_G_PER_MOL) / (3 * CL2_G_PER_MOL), value, tolerance);
		near(defaultConstants.chlorateYield, value, tolerance);
		near(uncertainConstants.chlorateYield.max, ifAllIsChlorate, tolerance);
	});
	const { initialGPerL, checks, tolerance, stockTolerance, atDose4From5To3_5 } = published.fromLoss;
	it.each(checks)("is $inStockMgPerL mg/L in a 5 g/L stock that is $strengthGPerL g/L, $perMgDose mg/L a mg/L of dose", (row) => {
		near(chlorateInStockMgPerL(initialGPerL, row.strengthGPerL, pure), row.inStockMgPerL, stockTolerance);
		near(chlorateInWaterMgPerL(1, initialGPerL, row.strengthGPerL, pure), row.perMgDose, 0.00001);
		near(chlorateInWaterMgPerL(2, initialGPerL, row.strengthGPerL, pure), row.atDose2, tolerance);
	});
	it("is 0.6247 mg/L in water dosed with 4 mg/L from a 5 g/L stock that is 3.5 g/L", () => {
		near(chlorateInWaterMgPerL(4, 5, 3.5, pure), atDose4From5To3_5, tolerance);
	});
	// Source: WHO Guidelines for drinking-water quality, 4th ed. with addenda, 2022: 0.7 mg/L, provisional.
	it.each(published.limit.checks)(
		"reaches 0.7 mg/L at $value of the first strength with a dose of $doseMgPerL mg/L",
		({ doseMgPerL, value }) => {
			expect(CHLORATE_GUIDELINE_MG_PER_L).toBe(published.limit.guidelineMgPerL);
			near(strengthAtChlorateLimitGPerL(doseMgPerL, 5, 0.7, pure) / 5, value, published.limit.tolerance);
		},
	);
	it("counts what fresh product carries: 0.05 of its strength unless told, 0.02 to 0.10", () => {
		near(chlorateInWaterMgPerL(2, 5, 5), 0.1, 1e-12);
		near(chlorateInWaterMgPerL(2, 5, 5, constantsWith({ freshChlorateShare: 0.1 })), 0.2, 1e-12);
		expect(strengthAtChlorateLimitGPerL(2, 5)).toBeGreaterThan(strengthAtChlorateLimitGPerL(2, 5, 0.7, pure));
	});
	it("brings exactly the limit at the limiting strength, also where fresh stock exceeds it already", () => {
		near(chlorateInWaterMgPerL(2, 5, strengthAtChlorateLimitGPerL(2, 5)), 0.7, 1e-12);
		const fresh = strengthAtChlorateLimitGPerL(10, 5, 0.3);
		expect(fresh).toBeGreaterThan(5);
		near(chlorateInWaterMgPerL(10, 5, fresh), 0.3, 1e-12);
		expect(strengthAtChlorateLimitGPerL(0, 5)).toBe(0);
	});
	it("does not fall below the fresh amount for a strength that seems to have risen", () => {
		expect(chlorateInStockMgPerL(5, 5.5)).toBe(chlorateInStockMgPerL(5, 5));
	});
	it("refuses a strength of 0, a dose of 101 mg/L and a limit of 0", () => {
		expect(() => chlorateInStockMgPerL(5, 0)).toThrow(RangeError);
		expect(() => chlorateInWaterMgPerL(101, 5, 4)).toThrow(RangeError);
		expect(() => strengthAtChlorateLimitGPerL(2, 5, 0)).toThrow(RangeError);
	});
});
