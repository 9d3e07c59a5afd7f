import { readFileSync } from "node:fs";
import { normalCdf } from "../../src/science/normal.js";
import { heldForUse, minMax, reorderPoint, safetyStock } from "../../src/science/reorder.js";

const published = JSON.parse(readFileSync("tests/published/stock.json", "utf8"));

describe("a reorder point", () => {
	it.each(published.reorderPoints.rows as { name: string; z: number; reorderPoint: number; tolerance?: number }[])(
		"is as published where $name: $reorderPoint",
		({ z, reorderPoint: expected, tolerance, ...demand }) => {
			const found = reorderPoint(demand as never, normalCdf(z));
			expect(Math.abs(found - expected)).toBeLessThanOrEqual(tolerance ?? published.reorderPoints.tolerance);
		},
	);

	it("is 900 mL for 40 households of 52.5 mL a week, 2 days of lead and 1 of safety; 6 days are 1800 mL", () => {
		const { households, mlPerWeek, mlPerDay, leadDays, safetyDays, reorderMl, capDays, capMl } = published.bleach;
		const perDay = (households * mlPerWeek) / 7;
		expect(perDay).toBeCloseTo(mlPerDay, 9);
		expect(reorderPoint({ perDay, sdPerDay: 0, leadDays: leadDays + safetyDays }, 0.95)).toBeCloseTo(reorderMl, 9);
		expect(perDay * capDays).toBeCloseTo(capMl, 9);
	});

	it("adds safety by the root of the sum of squares: 3 and 4 are 5 times z", () => {
		expect(safetyStock(normalCdf(1), 3, 4)).toBeCloseTo(5, 6);
		expect(safetyStock(0.5, 3, 4)).toBeCloseTo(0, 9);
		expect(() => safetyStock(1.2, 1)).toThrow(RangeError);
		expect(() => safetyStock(0.95, -1)).toThrow(RangeError);
	});
});

describe("minimum and maximum of health supply chains", () => {
	it("order 700 units: 1.2 months in stock are below the minimum of 2, the maximum is 3", () => {
		const { use, onHand, onOrder, lead, safety, review, minimum, maximum, stockFor, order } = published.minMax.months;
		expect(minMax({ lead, safety, review }, { use, onHand, onOrder })).toEqual({
			minimum,
			maximum,
			stockFor,
			belowMinimum: true,
			order,
		});
	});

	it.each(published.minMax.monthsOfStock as { onHand: number; use: number; months: number }[])(
		"tell that $onHand in stock at $use a month are $months months",
		({ onHand, use, months }) => {
			expect(minMax({ lead: 1, safety: 1, review: 1 }, { use, onHand }).stockFor).toBeCloseTo(months, 3);
		},
	);

	it("order nothing where the maximum is reached, and never run out where nothing is used", () => {
		expect(minMax({ lead: 1, safety: 1, review: 1 }, { use: 10, onHand: 40 }).order).toBe(0);
		expect(minMax({ lead: 1, safety: 1, review: 1 }, { use: 0, onHand: 0 })).toMatchObject({
			stockFor: Number.POSITIVE_INFINITY,
			order: 0,
		});
	});
});

describe("what must be held of a perishable", () => {
	it("is each use divided by the share that is left by then: 1 at 100 %, 1 at 80 % and 1 at 50 % are 4.25", () => {
		expect(heldForUse([1, 1, 1], [1, 0.8, 0.5])).toBeCloseTo(4.25, 12);
		expect(() => heldForUse([1], [0])).toThrow(RangeError);
	});
});
