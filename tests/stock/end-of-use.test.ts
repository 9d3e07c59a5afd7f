import { policyFrom } from "../../src/programme/policy.js";
import { endOfUse, LEAST_USE_G_PER_L, stillServes } from "../../src/stock/end-of-use.js";
import type { Forecast } from "../../src/stock/forecast.js";
import { DAY_MS } from "../../src/time/clock.js";

const NOW = Date.UTC(2026, 2, 3);
const policy = policyFrom({});
const forecast = (gPerL: number, perDay: number, verdict: Forecast["verdict"] = "usable") =>
	({
		verdict,
		now: { atMs: NOW, medianGPerL: gPerL, lowGPerL: gPerL, highGPerL: gPerL },
		outlook: [0, 10, 20, 40, 60].map((days) => ({
			atMs: NOW + days * DAY_MS,
			meanGPerL: gPerL * (1 - perDay) ** days,
			sdGPerL: 0,
		})),
	}) as unknown as Forecast;
const end = (
	gPerL: number,
	perDay: number,
	verdict: Forecast["verdict"],
	setAsideUntilMs: number | null = null,
	made = 5,
	dosesCloudy = false,
) => endOfUse({ madeStrengthGPerL: made, forecast: forecast(gPerL, perDay, verdict), setAsideUntilMs, dosesCloudy }, NOW, policy);

describe("the end of a jar's use", () => {
	it("isn't in sight while it is strong enough", () => {
		expect(end(4.5, 0.01, "usable")).toBeUndefined();
		expect(end(4.5, 0.01, "test first")).toBeUndefined();
	});

	it("is now for drinking water where it is weak or too old", () => {
		expect(end(3, 0.01, "weak")).toEqual({ what: "set aside for surfaces", because: "weak", dueAtMs: NOW });
		expect(end(4.5, 0.01, "too old")).toMatchObject({ what: "set aside for surfaces", because: "too old" });
	});

	it("comes by chlorate while it is still strong: 8 g/L that have become less than 5.6 g/L bring more than 0.7 mg/L", () => {
		// dose · (x0 · S0 + y · (S0 - S)) / S = 0.7 with dose 3.75 mg/L, y 0.364 (Adam & Gordon 1999).
		const found = end(8, 0.05, "usable", null, 8, true);
		expect(found).toMatchObject({ what: "set aside for surfaces", because: "chlorate" });
		const strength = 8 * 0.95 ** (((found?.dueAtMs ?? 0) - NOW) / DAY_MS);
		expect(strength).toBeGreaterThan(5);
		expect(strength).toBeLessThan(6.2);
		// Half the dose brings half the chlorate: 5 g/L for clear water stays under the limit until it is weak.
		expect(end(4.5, 0.01, "usable", null, 5, false)).toBeUndefined();
	});

	it("is when it serves no use, under 0.5 g/L, or when it should have been used up", () => {
		expect(LEAST_USE_G_PER_L).toBe(0.5);
		expect(end(0.4, 0.01, "weak")).toMatchObject({ what: "pour away", because: "serves no use", dueAtMs: NOW });
		const until = NOW + 14 * DAY_MS;
		expect(end(3, 0.01, "weak", until)).toEqual({ what: "pour away", because: "not used up", dueAtMs: until });
		// 1 g/L at 8 % a day is under 0.5 g/L after ln 2 / 0.0834 = 8.3 days.
		const spent = end(1, 0.08, "weak", until);
		expect(spent).toMatchObject({ what: "pour away", because: "serves no use" });
		expect(((spent?.dueAtMs ?? 0) - NOW) / DAY_MS).toBeCloseTo(8.5, 0);
	});
});

describe("what weak bleach still serves", () => {
	it.each([
		[3, "floorsAndLatrines", 6670],
		[1.5, "touchedSurfaces", 6670],
		[0.8, "homeSurfaces", 6250],
	])("of %d g/L: %s, %d mL made up to 10 L", (gPerL, use, bleachMl) => {
		// C1 · V1 = C2 · V2 with 2, 1 and 0.5 g/L, rounded up to 10 mL.
		expect(stillServes(forecast(gPerL, 0), NOW)).toMatchObject({ use, bleachMl });
	});

	it("is made up from what the jar holds where that isn't enough for 10 L, no weaker than the use asks for", () => {
		// 2 g/L from 3 g/L: two parts of bleach to one of water; 4750 of 4752 mL can be measured in steps of 10 mL.
		const serves = stillServes(forecast(3, 0), NOW, 4752);
		expect(serves).toMatchObject({ use: "floorsAndLatrines", bleachMl: 4750 });
		const strengthGPerL = (3 * 4.75) / (4.75 + (serves?.waterL ?? 0));
		expect(strengthGPerL).toBeGreaterThanOrEqual(2);
		expect(strengthGPerL).toBeLessThan(2.02);
		expect(stillServes(forecast(3, 0), NOW, 6)).toMatchObject({ bleachMl: 6, waterL: 0 });
	});

	it("is nothing under 0.5 g/L", () => {
		expect(stillServes(forecast(0.45, 0), NOW)).toBeUndefined();
	});
});
