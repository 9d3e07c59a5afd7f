import { policyFrom } from "../../src/programme/policy.js";
import { doseByHouseholdProtocol, strengthToDoseBy } from "../../src/water/protocol-dose.js";
import { shippedProtocols } from "../../src/water/protocols/shipped.js";

/** Bleach of which little is known: 4 to 6.25 g/L, likely 5. */
const strength = { atMs: 0, lowGPerL: 4, medianGPerL: 5, highGPerL: 6.25, chanceUnderLimit: 0 };
const jar = { strength, madeStrengthGPerL: 5, contradicted: false };
const clear = { volumeL: 20, turbidity: "clear", temperatureC: 25 } as const;
const dosed = (doseAtChance: number, water: Parameters<typeof doseByHouseholdProtocol>[1] = clear) => {
	const answer = doseByHouseholdProtocol(shippedProtocols[0], water, jar, policyFrom({ doseAtChance }));
	if (answer.kind !== "dose") throw new Error(`no dose: ${JSON.stringify(answer)}`);
	return answer;
};

describe("the strength that doses are measured by", () => {
	it("is the likely one at a chance of 0.5, the low end at 0.05, and lies between at others, as a lognormal has it", () => {
		expect(strengthToDoseBy(strength, { doseAtChance: 0.5 })).toBeCloseTo(5, 9);
		expect(strengthToDoseBy(strength, { doseAtChance: 0.05 })).toBeCloseTo(4, 9);
		// Computed independently: ln-sd ln(5/4)/1.64485 = 0.135661; 5*exp(-0.135661*0.841621) = 4.4605 at a chance of 0.2.
		expect(strengthToDoseBy(strength, { doseAtChance: 0.2 })).toBeCloseTo(4.4605, 3);
	});

	// 1.875 mg/L x 20 L / 5 g/L = 7.5 mL; / 4 g/L = 9.375 mL, 9.5 mL on a syringe in halves (computed independently).
	it("gives 7.5 mL into 20 L by the likely 5 g/L, and 9.5 mL by the low end of 4 g/L, which then brings the protocol's dose still", () => {
		expect(dosed(0.5).volumeMl).toBe(7.5);
		expect(dosed(0.05).volumeMl).toBe(9.5);
		expect(dosed(0.05).doseMgPerL.low).toBeGreaterThanOrEqual(1.875);
	});

	it("never lets the strongest that is believed pass 5 mg/L, also where a household gives twice the protocol's dose", () => {
		for (const turbidity of ["clear", "cloudy"] as const)
			for (const doseTimes of [1, 1.5, 2]) {
				const { residualAfterContactMgPerL } = dosed(0.05, { ...clear, turbidity, doseTimes });
				expect(residualAfterContactMgPerL.high).toBeLessThanOrEqual(5);
			}
	});

	it("is a household's own dose times the protocol's: 11.5 mL for 1.5 times 7.5 mL", () => {
		// 11.25 mL, halfway goes up.
		expect(dosed(0.5, { ...clear, doseTimes: 1.5 }).volumeMl).toBe(11.5);
	});
});
