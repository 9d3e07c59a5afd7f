import fc from "fast-check";
import { protocolFindings } from "../../../src/water/protocol/checker.js";
import { closedOnDrinkersSide } from "../../../src/water/protocol/closing.js";
import { needsCheckBeforeDrinking } from "../../../src/water/protocol/dose-findings.js";
import { doseByProtocol } from "../../../src/water/protocol/doses.js";
import { bandsHolding, edgeBefore, endOf, startOf, stretchesOf } from "../../../src/water/protocol/ends.js";
import { refusals } from "../../../src/water/protocol/finding.js";
import { type Band, type Protocol, protocolFrom } from "../../../src/water/protocol/protocol.js";
import { mostChecks } from "../../../src/water/protocol/steps.js";
import { fieldCard, fieldCardAsTaught } from "../../../src/water/protocols/field-card.js";
import { twoDose } from "../../../src/water/protocols/two-dose.js";

const codesOf = (protocol: Protocol) => protocolFindings(protocol).map(({ code }) => code);
const found = (protocol: Protocol, code: string) => protocolFindings(protocol).filter((finding) => finding.code === code);

/** The published protocol with the first check's bands changed. */
function withBands(change: (bands: Band[]) => Band[]): Protocol {
	const [first, ...more] = twoDose.checks;
	const { bandsAtPH8AndOver: _, ...check } = first!;
	return { ...twoDose, checks: [{ ...check, bands: change(check.bands) }, ...more] };
}

const changed = (code: string, change: Partial<Band>) =>
	withBands((bands) => bands.map((band) => (band.code === code ? { ...band, ...change } : band)));

describe("the checker of protocols", () => {
	it("finds nothing to refuse or warn of in the published two-dose protocol", () => {
		expect(protocolFindings(protocolFrom(twoDose))).toEqual([]);
		expect(needsCheckBeforeDrinking(twoDose)).toBe(false);
	});

	it("refuses the field card as taught for its gaps 1-2 and 4-5 mg/L, for pouring without end and for water over 100 NTU", () => {
		const refused = refusals(protocolFindings(protocolFrom(fieldCardAsTaught)));
		expect(refused.map(({ code }) => code)).toEqual(["gap", "gap", "never-ends", "over-100-ntu-dosed"]);
		expect(refused[0]!.sentence).toContain("from 1 to under 2 mg/L (gap 1-2)");
		expect(refused[1]!.sentence).toContain("over 4 and under 5 mg/L (gap 4-5)");
		expect(refused[0]!.figures).toEqual({ startMgPerL: 1, endMgPerL: 2 });
		expect(refused[2]!.sentence).toContain("Pour it between two disinfected containers five times");
	});

	it("accepts the field card as it ships, with warnings for what was closed, the dose, cold, pH 8, storage and kits", () => {
		const findings = protocolFindings(protocolFrom(fieldCard));
		expect(refusals(findings)).toEqual([]);
		expect(new Set(findings.map(({ code }) => code))).toEqual(
			new Set([
				"dose-over-guideline",
				"kit-may-bleach-out",
				"contact-too-short-when-cold",
				"contact-too-short-at-ph-8",
				"use-within-unknown",
				"no-check-at-use",
				"closed-on-drinkers-side",
				"no-source",
			]),
		);
		expect(findings.filter(({ code }) => code === "closed-on-drinkers-side").map(({ sentence }) => sentence)).toEqual(
			fieldCard.closings,
		);
	});

	it("ships the field card exactly as closing the taught one on the drinker's side makes it", () => {
		expect(closedOnDrinkersSide(fieldCardAsTaught).protocol).toEqual(fieldCard);
	});

	// Figures: 1.5 mL x 4, 5, 6 g/L (= mg/mL) in 1 L, computed independently. Guideline value 5 mg/L: WHO Guidelines, chemical fact sheet.
	it("says by itself that 1.5 mL per litre at 5 g/L is 7.5 mg/L, over 5 mg/L, and that nobody drinks before the check", () => {
		const [first] = found(fieldCard, "dose-over-guideline");
		expect(first!.sentence).toBe(
			"1.5 mL per litre at a measured 5 g/L is 7.5 mg/L in clear water (6 at 4 g/L, 9 at 6 g/L): over the guideline value of 5 mg/L " +
				"unless the water's demand takes 2.5 mg/L or more; 0 to 1 mg/L is usual. Nobody drinks before the residual check has found it fit.",
		);
		expect(first!.figures).toMatchObject({ mlPerL: 1.5, weakMgPerL: 6, nominalMgPerL: 7.5, strongMgPerL: 9, mostMgPerL: 5 });
		expect(needsCheckBeforeDrinking(fieldCard)).toBe(true);
		expect(found(fieldCard, "dose-over-guideline")[1]!.figures).toMatchObject({ mlPerL: 3, nominalMgPerL: 15 });
	});

	it("refuses the same dose where people would drink once the 30 minutes are over, without a reading", () => {
		const refused = refusals(protocolFindings({ ...fieldCard, drinkFrom: "contactTime" }));
		expect(refused.map(({ code }) => code)).toEqual(["dose-over-guideline", "dose-over-guideline", "dose-over-guideline"]);
		expect(refused[0]!.sentence).toContain("lets people drink without it");
	});

	it("speaks of the strongest bleach where only that passes 5 mg/L: 0.9 mL per litre is 4.5 mg/L at 5 g/L and 5.4 at 6", () => {
		const give = { mlPerL: 0.9, nominalStrengthGPerL: 5 };
		const clear = { give, useWithinHours: 24 };
		const [finding] = found({ ...twoDose, doses: { ...twoDose.doses, clear } }, "dose-over-guideline");
		expect(finding!.sentence).toContain(
			"over the guideline value of 5 mg/L at the strongest unless the water's demand takes 0.4 mg/L",
		);
	});

	it("refuses 1 mg/L without a check: water that takes 1 mg/L keeps nothing of it, under 0.5 mg/L", () => {
		const clear = { give: { mgPerL: 1 }, useWithinHours: 24 };
		const [finding] = refusals(protocolFindings({ ...twoDose, doses: { ...twoDose.doses, clear } }));
		expect(finding).toMatchObject({ code: "dose-may-not-suffice", at: "/doses/clear" });
		expect(finding!.sentence).toContain("the least that is left is 0 mg/L, under 0.5 mg/L");
	});

	it.each([
		["fit up to 6 mg/L, over the guideline value of 5", changed("strong-taste", { upToMgPerL: 6 }), "fit-over-guideline"],
		["fit from 0.4 mg/L after the contact time, under 0.5", changed("fit", { fromMgPerL: 0.4 }), "fit-under-least"],
		["an overlap from 0.5 to 0.6 mg/L", changed("too-low", { belowMgPerL: 0.6 }), "overlap"],
		["a gap at 5 mg/L itself", changed("strong-taste", { upToMgPerL: undefined, belowMgPerL: 5 }), "gap"],
		["drinking water that isn't fit", changed("too-low", { next: { end: "drink" } }), "drunk-though-not-fit"],
		[
			"a second dose that is tested after 20 min",
			changed("too-low", { next: { check: "after-second-dose", afterMinutes: 20 } }),
			"checked-too-soon",
		],
		["a second dose that nobody tests", changed("too-low", { next: { end: "otherSource" } }), "dosed-without-check"],
		[
			"a second dose that is held against 0.2 mg/L only",
			changed("too-low", { next: { check: "point-of-use", afterMinutes: 30 } }),
			"dosed-without-check",
		],
		["a dilution that can follow on itself for ever", changed("too-high", { repeated: undefined }), "never-ends"],
		["a contact time of 20 min", { ...twoDose, contact: { ...twoDose.contact, minutes: 20 } }, "contact-too-short"],
		["dosing over 100 NTU", { ...twoDose, doses: { ...twoDose.doses, veryTurbid: twoDose.doses.cloudy } }, "over-100-ntu-dosed"],
		[
			"a check that nothing leads to",
			{
				...twoDose,
				checks: twoDose.checks.map((check) => ({ ...check, begins: check.begins === "atVisit" ? null : check.begins })),
			},
			"never-reached",
		],
	] as [string, Protocol, string][])("refuses %s", (_, protocol, code) => {
		expect(refusals(protocolFindings(protocolFrom(protocol))).map((finding) => finding.code)).toContain(code);
	});

	it.each([
		[
			"fit from 0.5 mg/L without bands for pH 8, where 1.0 mg/L is needed",
			withBands((bands) => bands),
			"fit-under-least-at-ph-8",
		],
		[
			"cloudy water used for 24 h, where a residual was found for 8 h",
			{ ...twoDose, doses: { ...twoDose.doses, cloudy: { ...twoDose.doses.cloudy, useWithinHours: 24 } } },
			"use-within-too-long",
		],
		[
			"a fixed wait of 30 min in cold water",
			{ ...twoDose, contact: { ...twoDose.contact, cold: null } },
			"contact-too-short-when-cold",
		],
		[
			"a fixed wait of 30 min at pH 8",
			{ ...twoDose, contact: { ...twoDose.contact, factorAtPH8AndOver: 1 } },
			"contact-too-short-at-ph-8",
		],
	] as [string, Protocol, string][])("warns of %s, and accepts it", (_, protocol, code) => {
		expect(codesOf(protocolFrom(protocol))).toContain(code);
		expect(refusals(protocolFindings(protocol))).toEqual([]);
	});

	it("says the longer wait with its minutes: 53 min at 10 °C and 60 min at pH 8 where the field card waits 30", () => {
		expect(found(fieldCard, "contact-too-short-when-cold")[0]!.figures).toEqual({ minutes: 30, neededMinutes: 53 });
		expect(found(fieldCard, "contact-too-short-at-ph-8")[0]!.figures).toEqual({ minutes: 30, neededMinutes: 60 });
	});

	it("bounds the readings of one fill: at most 4 by the field card, low, high, high and the last", () => {
		expect(mostChecks(fieldCard)).toBe(4);
		expect(mostChecks(fieldCardAsTaught)).toBe(Number.POSITIVE_INFINITY);
	});

	it("names each field that a protocol's form gets wrong", () => {
		const wrong = changed("too-low", { next: { check: "nowhere", afterMinutes: 30 } });
		expect(() => protocolFrom(wrong)).toThrow(/\/checks\/0\/bands\/0\/next\/check must be the code of a check here/);
		expect(() => protocolFrom({ ...twoDose, version: 0 })).toThrow(/\/version/);
		expect(() => protocolFrom(changed("fit", { overMgPerL: 0.5 }))).toThrow(/one low end/);
		expect(() => protocolFrom(changed("fit", { fromMgPerL: 3 }))).toThrow(/low end under its high end/);
	});
});

describe("a dose by protocol", () => {
	// 1.875 mg/L in 20 L of 5 g/L is 7.5 mL, 3.75 mg/L is 15 mL: W2 and W3 of the volume formula, computed.
	it("gives 7.5 mL and 15 mL for 20 L of clear and cloudy water at 5 g/L by the published protocol", () => {
		const ml = (turbidity: "clear" | "cloudy") => {
			const dose = doseByProtocol(twoDose, { turbidity, strengthGPerL: 5 });
			return dose.kind === "dose" ? dose.mlPerL * 20 : Number.NaN;
		};
		expect(ml("clear")).toBeCloseTo(7.5, 9);
		expect(ml("cloudy")).toBeCloseTo(15, 9);
	});

	it("doubles the field card's 1.5 mL per litre once, in water that isn't clear or is under 18 °C", () => {
		const at = (turbidity: "clear" | "cloudy", waterTemperatureC?: number) =>
			doseByProtocol(fieldCard, {
				turbidity,
				strengthGPerL: 5,
				...(waterTemperatureC === undefined ? {} : { waterTemperatureC }),
			});
		expect(at("clear", 18)).toMatchObject({ mlPerL: 1.5, doseMgPerL: 7.5, doubled: false });
		expect(at("clear", 17)).toMatchObject({ mlPerL: 3, doseMgPerL: 15, doubled: true });
		expect(at("cloudy", 10)).toMatchObject({ mlPerL: 3, doseMgPerL: 15, doubled: true });
	});

	it("wants water over 100 NTU treated first, by either protocol", () => {
		for (const protocol of [twoDose, fieldCard])
			expect(doseByProtocol(protocol, { turbidity: "veryTurbid", strengthGPerL: 5 }).kind).toBe("treatFirst");
	});
});

/** Bands whose ends lie on multiples of 0.05 mg/L, of any overlap; each kind of end. */
const anyBands = fc
	.array(
		fc.record({
			low: fc.integer({ min: 0, max: 120 }),
			width: fc.integer({ min: 0, max: 60 }),
			over: fc.boolean(),
			top: fc.constantFrom("below" as const, "upTo" as const, "open" as const),
		}),
		{ minLength: 1, maxLength: 6 },
	)
	.map((list) =>
		list
			.map(({ low, width, over, top }) => ({
				...(over ? { overMgPerL: low / 20 } : { fromMgPerL: low / 20 }),
				...(top === "open" ? {} : top === "below" ? { belowMgPerL: (low + width) / 20 } : { upToMgPerL: (low + width) / 20 }),
			}))
			.filter((band) => edgeBefore(startOf(band), endOf(band))),
	);

/** Whether a reading is in a band, from the words alone. */
function isIn(
	band: { fromMgPerL?: number; overMgPerL?: number; belowMgPerL?: number; upToMgPerL?: number },
	mgPerL: number,
): boolean {
	return (
		(band.fromMgPerL === undefined || mgPerL >= band.fromMgPerL) &&
		(band.overMgPerL === undefined || mgPerL > band.overMgPerL) &&
		(band.belowMgPerL === undefined || mgPerL < band.belowMgPerL) &&
		(band.upToMgPerL === undefined || mgPerL <= band.upToMgPerL)
	);
}

describe("gaps and overlaps", () => {
	// The brute-force scan is an independent computation: no ends are sorted, every 0.01 mg/L from 0 to 12 is tried.
	it("are those that a scan in steps of 0.01 mg/L finds, for any set of bands", () => {
		fc.assert(
			fc.property(anyBands, (bands) => {
				const stretches = stretchesOf(bands);
				const wrong: number[] = [];
				for (let step = 0; step <= 1200; step++) {
					const mgPerL = step / 100;
					const holding = bands.filter((band) => isIn(band, mgPerL));
					const at = { mgPerL, after: false };
					const around = stretches.filter(({ start, end }) => !edgeBefore(at, start) && edgeBefore(at, end));
					const isSame = (held: readonly object[] | undefined) =>
						held?.length === holding.length && held.every((band, i) => band === holding[i]);
					if (around.length !== 1 || !isSame(around[0]!.holders) || !isSame(bandsHolding(bands, mgPerL))) wrong.push(mgPerL);
				}
				expect(wrong).toEqual([]);
			}),
			{ numRuns: 200 },
		);
	});
});

describe("closing on the drinker's side", () => {
	it("gives an overlap from 0.5 to 1 mg/L between too low and fit to too low, and says so", () => {
		const protocol = changed("too-low", { belowMgPerL: 1 });
		const { protocol: closed, findings } = closedOnDrinkersSide(protocol);
		expect(findings.map(({ sentence }) => sentence)).toEqual([
			'After the contact time: readings from 0.5 to under 1 mg/L were in "too-low" and "fit" (overlap 0.5-1); they now count as "too-low", the stricter one.',
		]);
		expect(closed.checks[0]!.bands[1]).toMatchObject({ code: "fit", fromMgPerL: 1, upToMgPerL: 2 });
		expect(refusals(protocolFindings(closed))).toEqual([]);
	});

	it("cuts a fit band in two where a stricter one lies inside it, each with a code of its own", () => {
		const inside = { ...twoDose.checks[0]!.bands[0]!, code: "inside", fromMgPerL: 1, belowMgPerL: 1.5 };
		const { protocol } = closedOnDrinkersSide(withBands((bands) => [...bands, inside]));
		expect(protocolFrom(protocol).checks[0]!.bands.map(({ code }) => code)).toEqual([
			"too-low",
			"fit",
			"inside",
			"fit-2",
			"strong-taste",
			"too-high",
		]);
	});

	it("doesn't stretch a fit band over readings from 5 mg/L up that have none: it stays refused", () => {
		const open = withBands((bands) => bands.filter(({ code }) => code !== "too-high"));
		const { protocol, findings } = closedOnDrinkersSide(open);
		expect(findings).toEqual([]);
		expect(refusals(protocolFindings(protocol)).map(({ code, sentence }) => [code, sentence])).toEqual([
			["gap", "After the contact time: no band holds readings over 5 mg/L (gap 5 and more)."],
		]);
	});

	it("leaves a protocol without holes as it is", () => {
		expect(closedOnDrinkersSide(twoDose)).toEqual({ protocol: twoDose, findings: [] });
	});
});
