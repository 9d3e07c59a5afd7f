import fc from "fast-check";
import { contactMinutes } from "../../../src/science/contact-time.js";
import { protocolFindings } from "../../../src/water/protocol/checker.js";
import { closedOnDrinkersSide } from "../../../src/water/protocol/closing.js";
import { bandsHolding } from "../../../src/water/protocol/ends.js";
import { refusals } from "../../../src/water/protocol/finding.js";
import { type Protocol, protocolFrom } from "../../../src/water/protocol/protocol.js";
import {
	type FillSoFar,
	fillAfterDose,
	fillAtVisit,
	type ResidualCheckReading,
	type WhatFollows,
	whatFollows,
} from "../../../src/water/protocol/reading.js";
import { mostChecks } from "../../../src/water/protocol/steps.js";
import { contactMinutesIn } from "../../../src/water/protocol/waits.js";
import { fieldCard } from "../../../src/water/protocols/field-card.js";
import { twoDose } from "../../../src/water/protocols/two-dose.js";
import { anyProtocol, anyWholeProtocol } from "./any-protocol.js";

/** What follows from readings one after another, each taken when its wait was just over. */
function followed(protocol: Protocol, readings: readonly number[], from = fillAfterDose(protocol)): WhatFollows[] {
	const all: WhatFollows[] = [];
	let soFar: FillSoFar | null = from;
	for (const freeChlorineMgPerL of readings) {
		if (!soFar) throw new Error("the steps have ended before");
		const follows = whatFollows(protocol, soFar, { freeChlorineMgPerL, minutesWaited: soFar.waitMinutes });
		all.push(follows);
		soFar = follows.soFar;
	}
	return all;
}

const last = (protocol: Protocol, readings: readonly number[], from?: FillSoFar) => followed(protocol, readings, from).at(-1)!;

const reading = (freeChlorineMgPerL: number, more: Partial<ResidualCheckReading> = {}): ResidualCheckReading => ({
	freeChlorineMgPerL,
	minutesWaited: 30,
	...more,
});

// Limits: WHO Guidelines for drinking-water quality (0.5, 0.2, 5 mg/L); MSF cholera guideline appendix 16 (1.0 mg/L and 60 min over pH 8).
describe("a reading by the published protocol", () => {
	it.each([
		[0.49, "tooLow", false],
		[0.5, "fit", true],
		[2, "fit", true],
		[5, "fit", true],
		[5.01, "tooHigh", false],
	] as const)("of %p mg/L after 30 minutes is %s", (mgPerL, meaning, fitToDrink) => {
		expect(last(twoDose, [mgPerL])).toMatchObject({ meaning, fitToDrink });
	});

	it("of 0.9 mg/L is fit at pH under 8 and too low at pH 8, where the wait is 60 minutes and 1.0 mg/L is needed", () => {
		const start = fillAfterDose(twoDose, { pHClass: "aboveEight" });
		expect(start.waitMinutes).toBe(60);
		const at = (mgPerL: number) => whatFollows(twoDose, start, reading(mgPerL, { minutesWaited: 60, pHClass: "aboveEight" }));
		expect(at(0.9)).toMatchObject({ meaning: "tooLow", fitToDrink: false, waitMinutes: 60 });
		expect(at(1)).toMatchObject({ meaning: "fit", fitToDrink: true });
		expect(whatFollows(twoDose, start, reading(0.9, { minutesWaited: 60, pHClass: "belowEight" })).meaning).toBe("fit");
	});

	it("of 0.1 mg/L asks for one corrected dose and a check 30 minutes later, with the cautions of handling bleach", () => {
		const follows = last(twoDose, [0.1]);
		expect(follows).toMatchObject({
			action: { code: "dose-once-more" },
			next: { check: "after-second-dose", dueAfterMinutes: 30 },
			tellSupervisor: false,
		});
		expect(follows.cautions.map(({ code }) => code)).toEqual(
			expect.arrayContaining(["never-mix", "protect-yourself", "local-rules"]),
		);
	});

	// From the field practice notes: no third dose blindly; strength test, turbidity, container, ammonia, jar test, supervisor (own choice).
	it("of 0.1 mg/L after a corrected dose ends with another source and the supervisor told, not with a third dose", () => {
		expect(last(twoDose, [0.1, 0.1])).toMatchObject({
			action: { code: "look-for-the-cause" },
			next: { end: "otherSource" },
			tellSupervisor: true,
			fitToDrink: false,
			soFar: null,
		});
	});

	it("over 5 mg/L tells the supervisor at once, and the second time ends with the water thrown away", () => {
		expect(last(twoDose, [6])).toMatchObject({ action: { code: "dilute" }, tellSupervisor: true, waitMinutes: 30 });
		expect(last(twoDose, [6, 5.5])).toMatchObject({ action: { code: "discard" }, next: { end: "discard" } });
		expect(last(twoDose, [6, 1.5])).toMatchObject({ meaning: "fit", next: { end: "drink" } });
	});

	it("at a visit is fit from 0.2 mg/L, and under it the stored water is dosed once and checked as after a second dose", () => {
		const visit = fillAtVisit(twoDose)!;
		const at = (mgPerL: number) => whatFollows(twoDose, visit, reading(mgPerL, { minutesWaited: null }));
		expect(at(0.2)).toMatchObject({ meaning: "fit", fitToDrink: true });
		expect(at(0.19)).toMatchObject({ meaning: "tooLow", next: { check: "after-second-dose", dueAfterMinutes: 30 } });
	});

	it("says that pH and temperature were taken for granted where nobody measured them", () => {
		expect(last(twoDose, [0.1]).assumptions).toEqual(["pH", "waterTemperature"]);
		const known = reading(0.1, { pHClass: "belowEight", waterTemperatureC: 25 });
		expect(whatFollows(twoDose, fillAfterDose(twoDose), known).assumptions).toEqual([]);
	});

	// Waits: the practice notes' computed values 30, 42.4, 52.2, 60, 79.2 and 120 min, rounded up to a whole minute.
	it.each([
		[25, "belowEight", 30],
		[18, "belowEight", 30],
		[13, "belowEight", 43],
		[10, "belowEight", 53],
		[8, "belowEight", 60],
		[4, "belowEight", 80],
		[8, "aboveEight", 120],
	] as const)(
		"waits at %p °C and pH class %s for %p minutes, as the contact time of the dose does",
		(waterTemperatureC, pHClass, minutes) => {
			expect(contactMinutesIn(twoDose.contact, { waterTemperatureC, pHClass })).toBe(minutes);
			expect(Math.ceil(contactMinutes({ waterTemperatureC, pHClass }) - 1e-9)).toBe(minutes);
		},
	);
});

// Common practice, no source: the card's own words, and its two gaps closed on the drinker's side.
describe("a reading by the field card", () => {
	it.each([
		[0.9, "low", false],
		[1, "low", false],
		[1.99, "low", false],
		[2, "fit", true],
		[4, "fit", true],
		[4.01, "high", false],
		[4.5, "high", false],
		[5, "high", false],
	] as const)("of %p mg/L falls in the band %s", (mgPerL, band, fitToDrink) => {
		expect(last(fieldCard, [mgPerL])).toMatchObject({ band, fitToDrink });
	});

	it("of 6 mg/L asks to pour between two disinfected containers five times and to test again after 120 minutes", () => {
		const follows = last(fieldCard, [6]);
		expect(follows.action.text).toContain("two disinfected containers five times");
		expect(follows.next).toEqual({ check: "after-wait", dueAfterMinutes: 120 });
		expect(follows.tellSupervisor).toBe(false);
	});

	it("under 1 mg/L doses again and tests after 30 minutes; under 1 twice is another source, and the supervisor is told", () => {
		expect(last(fieldCard, [0.5])).toMatchObject({ next: { check: "after-wait", dueAfterMinutes: 30 }, tellSupervisor: false });
		expect(last(fieldCard, [0.5, 0.8])).toMatchObject({ next: { end: "otherSource" }, tellSupervisor: true, soFar: null });
		expect(last(fieldCard, [0.5, 6, 0.8])).toMatchObject({ next: { end: "otherSource" }, tellSupervisor: true });
	});

	it("over 4 mg/L a third time stops the pouring and tells the supervisor", () => {
		expect(last(fieldCard, [9, 7, 6])).toMatchObject({ next: { end: "otherSource" }, tellSupervisor: true, fitToDrink: false });
	});

	it("before the 30 minutes are over is kept, flagged, not counted and not drunk, however good: 3 mg/L after 12 minutes", () => {
		const start = fillAfterDose(fieldCard);
		const early = whatFollows(fieldCard, start, reading(3, { minutesWaited: 12 }));
		expect(early).toMatchObject({ tooEarly: true, meaning: "tooEarly", band: "fit", fitToDrink: false, waitMinutes: 18 });
		expect(early.next).toEqual({ check: "after-wait", dueAfterMinutes: 18 });
		expect(early.soFar).toEqual(start);
		expect(whatFollows(fieldCard, start, reading(3, { minutesWaited: 29.9 })).tooEarly).toBe(true);
		expect(whatFollows(fieldCard, start, reading(3, { minutesWaited: 30 })).tooEarly).toBe(false);
	});

	it("doesn't count an early low reading as the first of two: 0.3 mg/L after 5 minutes, then 0.3 after 30 doses again", () => {
		const early = whatFollows(fieldCard, fillAfterDose(fieldCard), reading(0.3, { minutesWaited: 5 }));
		expect(whatFollows(fieldCard, early.soFar!, reading(0.3))).toMatchObject({
			action: { code: "dose-again" },
			tellSupervisor: false,
		});
	});

	it("of which nobody knows how long the water stood doesn't count either, and the whole 30 minutes are waited", () => {
		expect(whatFollows(fieldCard, fillAfterDose(fieldCard), reading(3, { minutesWaited: null }))).toMatchObject({
			tooEarly: true,
			waitMinutes: 30,
			fitToDrink: false,
		});
	});

	// Source: kit manuals: DPD loses its colour over about 8 to 10 mg/L.
	it("of nothing after a dose of 15 mg/L warns that the kit may have lost its colour, and after 7.5 mg/L doesn't", () => {
		const cautions = (doseMgPerL: number) =>
			whatFollows(fieldCard, fillAfterDose(fieldCard), reading(0, { doseMgPerL })).cautions.map(({ code }) => code);
		expect(cautions(15)[0]).toBe("read-again-diluted");
		expect(cautions(7.5)).not.toContain("read-again-diluted");
	});

	it("outside 0 to 50 mg/L is refused with the range", () => {
		for (const mgPerL of [-0.1, 51, Number.NaN])
			expect(() => whatFollows(fieldCard, fillAfterDose(fieldCard), reading(mgPerL))).toThrow(
				/free chlorine in mg\/L must be 0 to 50/,
			);
	});
});

/** As many low as fit and high ones: else steps would end by luck. */
const anyReadings = fc.array(
	fc.record({
		mgPerL: fc.oneof(
			...[
				[0, 1],
				[1, 5],
				[5, 12],
			].map(([min, max]) => fc.double({ min, max, noNaN: true })),
		),
		atPH8: fc.boolean(),
	}),
	{ minLength: 40, maxLength: 40 },
);

/** How many readings it takes until the steps end, the readings taken again and again; one more than `most` where they don't. */
function checksUntilEnd(protocol: Protocol, readings: readonly { mgPerL: number; atPH8: boolean }[], most: number): number {
	let soFar: FillSoFar | null = fillAfterDose(protocol);
	let count = 0;
	for (; soFar && count <= most; count++) {
		const { mgPerL, atPH8 } = readings[count % readings.length]!;
		const pHClass = atPH8 ? "aboveEight" : "belowEight";
		soFar = whatFollows(protocol, soFar, reading(mgPerL, { minutesWaited: soFar.waitMinutes, pHClass })).soFar;
	}
	return count;
}

describe("any protocol that the checker accepts", () => {
	const accepted = anyWholeProtocol.filter((protocol) => refusals(protocolFindings(protocol)).length === 0);
	const closed = anyProtocol
		.map((protocol) => closedOnDrinkersSide(protocol).protocol)
		.filter((protocol) => refusals(protocolFindings(protocol)).length === 0);

	it.each([
		["as submitted", accepted],
		["closed on the drinker's side", closed],
	] as const)("%s has exactly one band for every reading, and ends within its bound whatever is read", (_, protocols) => {
		fc.assert(
			fc.property(protocols, anyReadings, (protocol, readings) => {
				protocolFrom(protocol);
				const most = mostChecks(protocol);
				expect(Number.isFinite(most)).toBe(true);
				expect(checksUntilEnd(protocol, readings, most)).toBeLessThanOrEqual(most);
				const notHeldOnce = protocol.checks.flatMap((check) =>
					[check.bands, check.bandsAtPH8AndOver ?? check.bands].flatMap((bands) =>
						readings.filter(({ mgPerL }) => bandsHolding(bands, mgPerL).length !== 1),
					),
				);
				expect(notHeldOnce).toEqual([]);
			}),
			{ numRuns: 60 },
		);
	});

	it("is one of many that are invented: at least a tenth of 200 pass, and at least a tenth are refused", () => {
		const passed = fc
			.sample(anyWholeProtocol, { numRuns: 200, seed: 11 })
			.filter((protocol) => refusals(protocolFindings(protocol)).length === 0).length;
		expect(passed).toBeGreaterThan(20);
		expect(passed).toBeLessThan(180);
	});

	it("never calls a reading fit after closing that wasn't held by a fit band before", () => {
		fc.assert(
			fc.property(anyProtocol, fc.double({ min: 0, max: 12, noNaN: true }), (protocol, mgPerL) => {
				const { protocol: after } = closedOnDrinkersSide(protocol);
				for (const [c, check] of protocol.checks.entries()) {
					const before = bandsHolding(check.bands, mgPerL);
					const now = bandsHolding(after.checks[c]!.bands, mgPerL);
					if (before.length !== 0 && before.some(({ meaning }) => meaning !== "fit"))
						expect(now.map(({ meaning }) => meaning)).not.toContain("fit");
					if (before.length === 1) expect(now.map(({ meaning }) => meaning)).toEqual([before[0]!.meaning]);
				}
			}),
			{ numRuns: 300 },
		);
	});
});
