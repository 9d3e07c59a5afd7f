import { describe, expect, it } from "@jest/globals";
import { agreement, verification } from "../../src/science/agreement.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

const { kappa, kappaTextbook } = published;

describe("agreement of two readers", () => {
	// Source: SAS printout in the tests of statsmodels.
	it("has kappa 0.4842, standard error 0.1380, 0.2137 to 0.7547 in the 3 by 3 table", () => {
		const result = agreement(kappa.table);
		expectNear(result.kappa, kappa.kappa, kappa.tolerance);
		expectNear(result.standardError, kappa.standardError, kappa.tolerance);
		expectNear(result.low, kappa.low, kappa.tolerance);
		expectNear(result.high, kappa.high, kappa.tolerance);
	});
	it("has kappa 0.4701 with linear weights there", () => {
		expectNear(agreement(kappa.table, { weights: "linear" }).kappa, kappa.linear, kappa.tolerance);
	});
	it("has for two categories the same kappa with every weight", () => {
		const plain = agreement([
			[20, 5],
			[10, 15],
		]).kappa;
		for (const weights of ["linear", "quadratic"] as const)
			expectNear(
				agreement(
					[
						[20, 5],
						[10, 15],
					],
					{ weights },
				).kappa,
				plain!,
				1e-12,
			);
	});
	it.each(kappaTextbook.checks)(
		"has kappa $kappa at an agreement of $observed",
		({ table, observed, expected, kappa: value }) => {
			const result = agreement(table);
			expectNear(result.observed, observed, 1e-12);
			expectNear(result.expected, expected, 1e-12);
			expectNear(result.kappa, value, kappaTextbook.tolerance);
			expectNear(result.pabak, 2 * observed - 1, 1e-12);
		},
	);
	it("has no kappa when only one category was ever used, and says what was observed", () => {
		expect(
			agreement([
				[12, 0],
				[0, 0],
			]),
		).toMatchObject({ observed: 1, kappa: null, standardError: null, low: null });
		expect(agreement([[5]]).kappa).toBeNull();
	});
	it("is 1 for perfect and under 0 for worse than chance", () => {
		expectNear(
			agreement([
				[5, 0],
				[0, 5],
			]).kappa,
			1,
			1e-12,
		);
		expect(
			agreement([
				[0, 5],
				[5, 0],
			]).kappa,
		).toBeLessThan(0);
	});
	it("refuses a table that isn't square and an empty one", () => {
		expect(() => agreement([[1, 2], [3]])).toThrow("agreement table must be square, 2 by 2, got a row of 1");
		expect(() =>
			agreement([
				[0, 0],
				[0, 0],
			]),
		).toThrow("pairs of readings must be 1 to");
	});
});

describe("verification of a reported count", () => {
	it.each(published.verification.checks)(
		"is $factor for $recounted recounted of $reported reported, still acceptable",
		(check) => {
			expect(verification(check)).toEqual({ factor: check.factor, verdict: "acceptable" });
		},
	);
	it("calls 89 of 100 over-reported and 111 of 100 under-reported", () => {
		expect(verification({ recounted: 89, reported: 100 }).verdict).toBe("overReported");
		expect(verification({ recounted: 111, reported: 100 }).verdict).toBe("underReported");
	});
	it("refuses a report of 0", () => {
		expect(() => verification({ recounted: 3, reported: 0 })).toThrow("reported must be 1 to 1000000000, got 0");
	});
});
