import { describe, expect, it } from "@jest/globals";
import { brineIonicStrength, STOICHIOMETRIC_SALT_KG_PER_KG, saltKgPerKgChlorine, saltNeededG } from "../../src/science/brine.js";
import published from "../published/making.json" with { type: "json" };
import { expectNear } from "./near.js";

const { salt, ionicStrength } = published;

describe("salt", () => {
	it("is 0.8242 kg/kg in the chlorine itself", () => {
		expectNear(STOICHIOMETRIC_SALT_KG_PER_KG, salt.stoichiometric, salt.tolerance);
	});
	// Sources: municipal plants 3.0 to 3.5 kg/kg (secondary); small cells 5 to 6 (computed independently).
	it.each(salt.checks)("of $saltGPerL g/L for $strengthGPerL g/L lies in $low to $high kg/kg", ({ low, high, ...brine }) => {
		const ratio = saltKgPerKgChlorine(brine);
		expect(ratio).toBeGreaterThanOrEqual(low - 1e-9);
		expect(ratio).toBeLessThanOrEqual(high + 1e-9);
	});
	it("is 600 g for 20 L of 30 g/L", () => {
		expect(saltNeededG(salt.batch)).toBeCloseTo(salt.batch.saltG, 9);
	});
	it("can't have made 15 g/L from 5 g/L of salt", () => {
		expect(() => saltKgPerKgChlorine({ saltGPerL: 5, strengthGPerL: 15 })).toThrow(/salt in kg per kg chlorine must be 0\.824/);
	});
	it("is refused at 400 g/L, beyond saturation", () => {
		expect(() => saltNeededG({ saltGPerL: 400, volumeL: 5 })).toThrow("salt in g/L must be 1 to 350, got 400");
	});
});

describe("ionic strength of the brine", () => {
	it.each(ionicStrength.checks)("is $value mol/L at $saltGPerL g/L, $daviesRange of the Davies range", (check) => {
		const result = brineIonicStrength(check.saltGPerL);
		expectNear(result.molPerL, check.value, ionicStrength.tolerance);
		expect(result.daviesRange).toBe(check.daviesRange);
	});
});
