import { comparatorUnevenSteps, comparatorWholeSteps, dropCount, photometer } from "../../src/science/kits.js";
import { bandEdgesMgPerL, dilutionFactor, misreadingChance, readingInterval } from "../../src/science/reading.js";

const oneInTwo = { sampleMl: 1, madeUpToL: 2 };

describe("what a reading says of the stock", () => {
	// Source: bands by midpoints 1.25, 1.75, 2.5, 4.0 for standards 1, 1.5, 2, 3, 5 mg/L: common practice, no source.
	it("bounds bands half way between the standards", () => {
		expect(bandEdgesMgPerL(comparatorUnevenSteps)).toEqual([0.5, 1.25, 1.75, 2.5, 4]);
	});

	// Source: worked example, computed independently: 1 mL in 2 L reads 3.0, so 5 to 8 g/L; 2.0 so 3.5 to 5; 1.5 so 2.5 to 3.5.
	it.each([
		[3, 5, 8],
		[2, 3.5, 5],
		[1.5, 2.5, 3.5],
	])("is, for %d mg/L at 1 mL in 2 L, %d to %d g/L", (reading, lowGPerL, highGPerL) => {
		expect(readingInterval(comparatorUnevenSteps, oneInTwo, reading)).toEqual({ lowGPerL, highGPerL });
	});

	it("is open above for the top band: 5 mg/L at 1 mL in 1 L is 4.5 g/L or more, so 5 and 7 g/L read the same", () => {
		const at = (reading: number) => readingInterval(comparatorWholeSteps, { sampleMl: 1, madeUpToL: 1 }, reading);
		expect(at(5)).toEqual({ lowGPerL: 4.5, highGPerL: Number.POSITIVE_INFINITY, flag: "openTop" });
	});

	it("is nothing for no colour in an undiluted sample: the colour may have been bleached away", () => {
		const said = readingInterval(comparatorWholeSteps, { sampleMl: 10, madeUpToL: 0.01 }, 0);
		expect(said).toEqual({ lowGPerL: 0, highGPerL: Number.POSITIVE_INFINITY, flag: "mayBeBleached" });
	});

	// Source: a count of n drops at f each lies in [(n-1)f, nf): 20 drops are 5 % wide. Common practice, no source.
	it("is 3.8 to 4.0 mg/L in the sample for 20 drops of 0.2 mg/L", () => {
		const { lowGPerL, highGPerL } = readingInterval(dropCount, { sampleMl: 1, madeUpToL: 1 }, 20);
		expect(lowGPerL).toBeCloseTo(3.8, 12);
		expect(highGPerL).toBeCloseTo(4.0, 12);
	});

	it("is refused with the scale for 2.5, 6 and -1 on a comparator, half a drop, and 5.1 mg/L on a photometer that ends at 5", () => {
		for (const reading of [2.5, 6, -1])
			expect(() => readingInterval(comparatorWholeSteps, oneInTwo, reading)).toThrow(/0, 1, 2, 3, 4, 5 mg\/L/);
		expect(() => readingInterval(dropCount, oneInTwo, 2.5)).toThrow(/whole drops, 0 to 60/);
		expect(() => readingInterval(photometer, oneInTwo, 5.1)).toThrow(/0 to 5 mg\/L/);
	});

	it("weakens by 2000 at 1 mL made up to 2 L, and refuses to be made up to less than the sample", () => {
		expect(dilutionFactor(oneInTwo)).toBe(2000);
		expect(() => dilutionFactor({ sampleMl: 10, madeUpToL: 0.005 })).toThrow(RangeError);
	});

	it("is misread with chances that sum to 1 over all bands, wherever the truth lies", () => {
		for (const kit of [comparatorWholeSteps, { ...comparatorWholeSteps, misreadSpread: "everywhere" as const }])
			for (let measured = 0; measured < 6; measured++) {
				const sum = [0, 1, 2, 3, 4, 5].reduce((total, shown) => total + misreadingChance(kit, measured, shown, 6), 0);
				expect(sum).toBeCloseTo(1, 12);
			}
	});
});
