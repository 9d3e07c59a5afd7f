import { describe, expect, it } from "@jest/globals";
import { chanceOfRepeat, longestRepeatedSequence } from "../../src/science/repeated-sequence.js";
import { SeededRandomness } from "../../src/time/randomness.js";

describe("a stretch of readings that comes again", () => {
	it("is found with its length and its two places", () => {
		expect(longestRepeatedSequence([9, 1, 2, 3, 4, 8, 7, 1, 2, 3, 4, 6])).toEqual({ length: 4, first: 1, again: 7 });
	});
	it("shares no reading with itself: five times the same are two and two", () => {
		expect(longestRepeatedSequence([3, 3, 3, 3, 3])).toMatchObject({ length: 2 });
		expect(longestRepeatedSequence([1, 2, 3])).toBeNull();
		expect(longestRepeatedSequence([])).toBeNull();
	});
	it("is what trying every pair of stretches finds, on 300 random series", () => {
		const draws = new SeededRandomness(3);
		for (let round = 0; round < 300; round++) {
			const values = Array.from({ length: 2 + draws.below(20) }, () => draws.below(3));
			let longest = 0;
			for (let first = 0; first < values.length; first++)
				for (let again = first + 1; again < values.length; again++)
					for (let length = 1; first + length <= again && again + length <= values.length; length++)
						if (values.slice(first, first + length).join() === values.slice(again, again + length).join())
							longest = Math.max(longest, length);
			expect(longestRepeatedSequence(values)?.length ?? 0).toBe(longest);
		}
	});
	it("has a chance that its bound isn't under, in 4000 random series of 30 with five values", () => {
		const draws = new SeededRandomness(4);
		for (const length of [4, 5, 6]) {
			let found = 0;
			for (let round = 0; round < 4000; round++) {
				const values = Array.from({ length: 30 }, () => draws.below(5));
				if ((longestRepeatedSequence(values)?.length ?? 0) >= length) found++;
			}
			const bound = chanceOfRepeat({ matchChance: 0.2, readings: 30, length });
			expect(found / 4000).toBeLessThan(bound + 0.015);
			expect(found / 4000).toBeGreaterThan(bound / 4);
		}
	});
});
