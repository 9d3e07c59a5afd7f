import { policyFrom } from "../../src/programme/policy.js";
import { normalQuantile } from "../../src/science/normal.js";
import type { StrengthAhead } from "../../src/science/outlook.js";
import { productionPlan } from "../../src/stock/production-plan.js";
import { restockOf, type StockJar, usableDays } from "../../src/stock/restock.js";
import { DAY_MS } from "../../src/time/clock.js";

const NOW = Date.UTC(2026, 2, 3);
const policy = policyFrom({});
const day = (n: number) => NOW + n * DAY_MS;
/** A strength that falls by a share of itself each day, known to a share of itself. */
const falling = (gPerL: number, perDay = 0, spread = 0): StrengthAhead[] =>
	[0, 5, 10, 20, 40, 60].map((days) => {
		const meanGPerL = gPerL * (1 - perDay) ** days;
		return { atMs: day(days), meanGPerL, sdGPerL: meanGPerL * spread };
	});
const jar = (over: Partial<StockJar> = {}): StockJar => ({
	heldMl: 1000,
	madeAtMs: NOW,
	making: "a",
	outlook: falling(5),
	...over,
});
const steady =
	(gPerDay: number, sdGPerDay = 0) =>
	() => ({ gPerDay, sdGPerDay });
const ask = (jars: StockJar[], useAt: (atMs: number) => { gPerDay: number; sdGPerDay: number }, fresh = falling(5)) =>
	restockOf({ jars, useAt, fresh, nowMs: NOW, policy });

describe("when a stock must be filled up", () => {
	it("is when use over 2 days of lead and 1 of review is left: 5 g at 0.5 g a day are 1.5 g after 7 days", () => {
		const restock = ask([jar()], steady(0.5));
		expect(restock).toMatchObject({ usableMl: 1000, usableG: 5 });
		expect(restock.reorderG).toBeCloseTo(1.5, 6);
		expect(restock.dueAtMs).toBeCloseTo(day(7), -4);
		expect(restock.outAtMs).toBe(day(10));
		// Ten days' use less the 1.5 g that are left then: 3.5 g of 5 g/L.
		expect(restock.collectMl).toBe(700);
	});

	it("is sooner for safety: 0.1 g of deviation a day for 3 days at 95 % are 0.49 g more", () => {
		const restock = ask([jar()], steady(0.5, 0.1));
		expect(restock.reorderG).toBeCloseTo(1.5 + normalQuantile(0.95) * 0.3, 6);
		expect((restock.dueAtMs as number) - NOW).toBeCloseTo(((5 - 1.5 - normalQuantile(0.95) * 0.3) / 0.5) * DAY_MS, -5);
	});

	it("is sooner where the strength is uncertain, and jars of one making are weak together", () => {
		const half = { heldMl: 500, outlook: falling(5, 0, 0.1) };
		const one = ask([jar({ ...half, making: "a" }), jar({ ...half, making: "a" })], steady(0.5));
		const two = ask([jar({ ...half, making: "a" }), jar({ ...half, making: "b" })], steady(0.5));
		expect(one.sdG).toBeCloseTo(0.5, 9);
		expect(two.sdG).toBeCloseTo(Math.sqrt(0.5) * 0.5, 9);
		expect(one.reorderG).toBeCloseTo(1.5 + normalQuantile(0.95) * 0.5, 6);
		expect(two.reorderG).toBeCloseTo(1.5 + normalQuantile(0.95) * Math.sqrt(0.5) * 0.5, 6);
		expect(one.dueAtMs).toBeLessThan(ask([jar()], steady(0.5)).dueAtMs as number);
	});

	it("is sooner where bleach ages: what it loses until it is used must be there too", () => {
		const ageing = ask([jar({ outlook: falling(5, 0.02) })], steady(0.5));
		// 0.5 g a day for 3 days, each divided by what is left of the strength by then.
		let needed = 0;
		for (let step = 0; step < 12; step++) needed += 0.125 / 0.98 ** ((step + 0.5) / 4);
		expect(ageing.reorderG).toBeCloseTo(needed, 3);
		expect(ageing.dueAtMs).toBeLessThan(day(7));
		expect(ageing.outAtMs).toBeLessThan(day(10));
	});

	it("counts nothing that will be too weak, too old or doubted when new bleach comes", () => {
		// 3.7 g/L falls under 3.5 g/L within 3 days at 2 % a day: it can't be relied on any more, though it is usable today.
		const weak = ask([jar({ outlook: falling(3.7, 0.02) })], steady(0.5));
		expect(weak).toMatchObject({ usableMl: 1000, dueAtMs: NOW });
		expect(ask([jar({ madeAtMs: day(-58) })], steady(0.5)).dueAtMs).toBe(NOW);
		expect(ask([jar({ isDoubted: true })], steady(0.5))).toMatchObject({ usableMl: 0, dueAtMs: NOW, outAtMs: NOW });
	});

	it("follows the season: twice the use from the fifth day on brings it forward", () => {
		const rains = (atMs: number) => ({ gPerDay: atMs < day(4) ? 0.5 : 1, sdGPerDay: 0 });
		const restock = ask([jar()], rains);
		// 5 - 4 · 0.5 = 3 g on day 4, which is what 3 days of 1 g take.
		expect(restock.dueAtMs).toBeCloseTo(day(4), -4);
	});

	it("is now with nothing in stock, and never where nothing is used", () => {
		expect(ask([], steady(0.5))).toMatchObject({ dueAtMs: NOW, outAtMs: NOW, collectMl: 1000 });
		expect(ask([jar()], steady(0))).toMatchObject({ dueAtMs: null, outAtMs: null, collectMl: 0 });
	});

	it("collects for no longer than fresh bleach stays usable: 5 g/L at 8 % a day falls under 3.5 g/L after 4 days", () => {
		expect(usableDays(falling(5, 0.08), NOW, policy)).toBe(4.25);
		const restock = ask([], steady(0.5), falling(5, 0.08));
		expect(restock.forDays).toBe(4.25);
		// 2.125 g that age by 8 % a day until they are used were 2.53 g: 507 mL, in whole steps of 100 mL.
		expect(restock.collectMl).toBe(600);
	});
});

describe("a production plan", () => {
	const run = { litresPerRun: 5, strengthGPerL: 5, minutesPerRun: 90, saltGPerRun: 150, chargeAhPerRun: 11.3 };
	const want = (days: number, volumeMl: number, out = days + 3) => ({
		volunteerId: `v${days}`,
		wantAtMs: day(days),
		volumeMl,
		chlorineGPerDay: 0.5,
		outAtMs: day(out),
	});

	it("puts wants and reserve together, less what stands there, in whole runs with their salt, water, time, charge and drops", () => {
		// 3 + 4 + 2 L wanted, 0.3 L of reserve (3 · 0.5 g a day at 5 g/L), 2 L standing: 7.3 L are 2 runs of 5 L.
		const plan = productionPlan([want(1, 3000), want(4, 4000), want(8, 2000)], [jar({ heldMl: 2000 })], run, NOW, policy);
		expect(plan).toEqual({
			runs: 2,
			litres: 10,
			waterL: 10,
			saltG: 300,
			minutes: 180,
			chargeAh: 22.6,
			reagentDrops: 10,
			byMs: day(1),
			dueAtMs: day(-1),
			volunteers: 3,
			wantedL: 9,
			reserveL: 0.3,
			standingL: 2,
			outAtMs: day(4),
		});
	});

	it("is due two days before the first want that what stands there doesn't serve", () => {
		const plan = productionPlan([want(1, 1500), want(6, 1500)], [jar({ heldMl: 2000 })], run, NOW, policy);
		expect(plan).toMatchObject({ runs: 1, byMs: day(6), dueAtMs: day(4) });
	});

	it("makes nothing where nothing is missing, and leaves wants of later weeks to later plans", () => {
		expect(productionPlan([want(1, 1500)], [jar({ heldMl: 5000 })], run, NOW, policy)).toMatchObject({ runs: 0, dueAtMs: null });
		expect(productionPlan([want(30, 9000)], [jar({ heldMl: 200 })], run, NOW, policy)).toMatchObject({ runs: 0, volunteers: 0 });
	});

	it("doesn't count bleach that will be too weak by then", () => {
		const plan = productionPlan([want(1, 1500)], [jar({ heldMl: 9000, outlook: falling(3.6, 0.02) })], run, NOW, policy);
		expect(plan).toMatchObject({ runs: 1, standingL: 0 });
	});
});
