import { acidPathK3PerM2PerS, alkalinePathK2PerMPerS, rateRatioTo25C } from "../../src/science/rate-constants.js";
import { molPerLOfStrength, SECONDS_PER_DAY, strengthGPerLOfMolar } from "../../src/science/units.js";
import published from "../published/decay.json" with { type: "json" };

const within = (actual: number, expected: number, relative: number) =>
	expect(Math.abs(actual / expected - 1)).toBeLessThanOrEqual(relative);

describe("alkaline path", () => {
	// Source: Adam & Gordon 1999, Inorg. Chem. 38:1299-1304.
	it.each(published.alkalinePathK2.checks)(
		"has k2 = $value 1/(M s) at $temperatureC °C, $ionicStrengthMolPerL mol/L",
		({ temperatureC, ionicStrengthMolPerL, value, perDay }) => {
			const k2 = alkalinePathK2PerMPerS(temperatureC, ionicStrengthMolPerL);
			within(k2, value, published.alkalinePathK2.relativeTolerance);
			within(k2 * SECONDS_PER_DAY, perDay, published.alkalinePathK2.relativeTolerance);
		},
	);
	it.each(published.alkalinePathRatios.checks)("is $value times as fast at $hotC as at $coldC °C", ({ hotC, coldC, value }) => {
		within(alkalinePathK2PerMPerS(hotC, 0.5) / alkalinePathK2PerMPerS(coldC, 0.5), value, 0.003);
	});
	it("refuses 4.9 and 60.1 °C, and ionic strengths of -0.1 and 6.1 mol/L", () => {
		expect(() => alkalinePathK2PerMPerS(4.9, 0.5)).toThrow("temperature in °C must be 5 to 60, got 4.9");
		expect(() => alkalinePathK2PerMPerS(60.1, 0.5)).toThrow(RangeError);
		expect(() => alkalinePathK2PerMPerS(25, -0.1)).toThrow(RangeError);
		expect(() => alkalinePathK2PerMPerS(25, 6.1)).toThrow(RangeError);
	});

	/** Strength after days by the alkaline path alone, strong bleach with as much salt as hypochlorite. */
	const alkalineOnly = (strengthGPerL: number, mu: number, temperatureC: number, days: number) => {
		const molar = molPerLOfStrength(strengthGPerL);
		return strengthGPerLOfMolar(molar / (1 + alkalinePathK2PerMPerS(temperatureC, mu) * SECONDS_PER_DAY * molar * days));
	};
	// Source: bleach-strength table for 12.5 trade-% (community wiki, secondary text): it shows that k2 is the loss of all OCl-.
	it.each(published.bleachTables.checks)(
		"takes 12.5 % bleach to $equation % in $days days at $temperatureF °F, where a table says $table %",
		({ temperatureF, days, table, equation }) => {
			const percent = alkalineOnly(125, 2 * molPerLOfStrength(125), ((temperatureF - 32) * 5) / 9, days) / 10;
			expect(Math.abs(percent - equation)).toBeLessThan(0.02);
			within(percent, table, 0.06);
		},
	);
	// Source: Lantagne, Preston et al. 2011, J. Environ. Eng. 137(2): stabilised 1.25 % keeps a year below 35 °C.
	it("takes 20 % of stabilised 1.25 % bleach in a year at 35 °C", () => {
		const { strengthGPerL, temperatureC, days, lost } = published.longStorage;
		const left = alkalineOnly(strengthGPerL, 2 * molPerLOfStrength(strengthGPerL), temperatureC, days) / strengthGPerL;
		expect(Math.abs(1 - left - lost)).toBeLessThan(0.005);
	});
	// Sources: rules of thumb named in tests/published/decay.json; the equation's values computed independently.
	describe("against the rules of thumb", () => {
		const dilution = (fromMolPerL: number, times: number) => {
			const strong = alkalinePathK2PerMPerS(25, 2 * fromMolPerL);
			const fractional = (strong * times) / alkalinePathK2PerMPerS(25, (2 * fromMolPerL) / times);
			return { fractional, absolute: fractional * times };
		};
		it("halving 2 mol/L with its salt divides the absolute rate by 7.9 and the fractional by 3.97 (rule: a quarter)", () => {
			within(dilution(2, 2).absolute, 7.9, 0.006);
			within(dilution(2, 2).fractional, 3.97, 0.002);
		});
		it("200 to 100 g/L with its salt divides the absolute rate by 10.5 and the fractional by 5.26 (rule: 5)", () => {
			within(dilution(molPerLOfStrength(200), 2).absolute, 10.5, 0.005);
			within(dilution(molPerLOfStrength(200), 2).fractional, 5.26, 0.002);
		});
		it("diluting 2 mol/L tenfold divides the absolute rate by 344 and the fractional by 34 (rule for perchlorate: 270)", () => {
			within(dilution(2, 10).absolute, 344, 0.005);
			within(dilution(2, 10).fractional, 34, 0.015);
		});
		it("5 °C less halve the rate, 10 °C more make it 3.9 times (rule: 2 and 3.5), 24 to 10 °C divide it by 8.0", () => {
			const k2 = (t: number) => alkalinePathK2PerMPerS(t, 0.5);
			within(k2(30) / k2(25), 2.0, 0.01);
			within(k2(35) / k2(25), 3.9, 0.01);
			within(k2(24) / k2(10), 8.0, 0.01);
		});
	});
});

describe("acid path", () => {
	// Source: Adam, Suzuki, Gordon, Fábián 1992, Inorg. Chem. 31:3534-3541.
	it.each(published.acidPathK3.checks)("has k3 = $value 1/(M² s) at $temperatureC °C", ({ temperatureC, value, lossValue }) => {
		within(acidPathK3PerM2PerS(temperatureC), value, published.acidPathK3.relativeTolerance);
		within(3 * acidPathK3PerM2PerS(temperatureC), lossValue, published.acidPathK3.relativeTolerance);
	});
	it.each(published.rateRatioTo25C.checks)(
		"runs $value times as fast at $temperatureC as at 25 °C",
		({ temperatureC, value }) => {
			within(rateRatioTo25C(temperatureC), value, published.rateRatioTo25C.relativeTolerance);
		},
	);
	// Source: effective activation energy 66.5 kJ/mol, computed independently.
	it("has an activation energy of 66.5 kJ/mol between 20 and 30 °C", () => {
		const slope = Math.log(rateRatioTo25C(30) / rateRatioTo25C(20)) / (1 / 293.15 - 1 / 303.15);
		expect(Math.abs((slope * 8.314) / 1000 - 66.5)).toBeLessThan(0.1);
	});
	it("refuses 4.9 °C, 60.1 °C and NaN", () => {
		for (const t of [4.9, 60.1, Number.NaN]) expect(() => rateRatioTo25C(t)).toThrow(RangeError);
	});
});
