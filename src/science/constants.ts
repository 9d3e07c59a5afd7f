/** A number of the model that no source settles: its default, and the range a programme may move it in. */
export interface UncertainConstant {
	readonly min: number;
	readonly default: number;
	readonly max: number;
	readonly unit: string;
	readonly source: string;
}

const uncertain = (min: number, value: number, max: number, unit: string, source: string): UncertainConstant =>
	Object.freeze({ min, default: value, max, unit, source });

/**
 * Every uncertain constant of the storage model, in one place. [R] read in the source, [S] in a secondary text, [M] from memory,
 * [C] computed from the others. Why each default was chosen: CHOICES.md beside this file.
 */
export const uncertainConstants = Object.freeze({
	acidPathLossFactor: uncertain(
		1,
		3,
		11.8,
		"-",
		"K3 = factor·k3. k3 from Adam et al. 1992 [R abstract]; factor 1 if that is total loss already, 6.75 if per total chlorine cubed, 11.8 from Kalmár et al. 2018 at 80 °C scaled [C]; 3 chlorine per event adopted, ln-sd 0.8",
	),
	pkaShift: uncertain(-0.1, 0, 0.1, "pH units", "spread of the mixed constant pKa' at ionic strength 0.5 M; ±45 % in rate [C]"),
	ionicStrengthMolPerL: uncertain(0.1, 0.5, 1, "mol/L", "25 to 30 g/L of salt in the brine give 0.43 to 0.51 M [C]"),
	lossRatePHUnknownPerDay: uncertain(
		0.0026,
		0.01,
		0.039,
		"1/day",
		"5 g/L, 25 °C, pH not measured: near pH 9 (0.0094); range pH 9.3 to 8.7, x/÷3.9 [C]",
	),
	hoclFractionPHUnknown: uncertain(0, 0, 0.05, "-", "pH not measured: no share is counted as lasting [choice]"),
	sunYieldGPerMJ: uncertain(
		2,
		5,
		12,
		"g Cl2/MJ",
		"3.37 with primary quantum yields (Buxton & Subhani 1972 [M]) times 1.5 for secondary loss [C], ln-sd 0.5; 12 scaled to Nowell & Hoigné 1992 [C]",
	),
	wallOpaque: uncertain(0, 0, 0.01, "UV-A fraction", "opaque dark HDPE, metal-free [M]"),
	wallOpaqueWhite: uncertain(
		0,
		0.02,
		0.05,
		"UV-A fraction",
		"opaque white HDPE, the least protective opaque wall (Nicoletti & Magalhães 1996 [R abstract]); number [M]",
	),
	wallTranslucent: uncertain(
		0.04,
		0.1,
		0.3,
		"UV-A fraction",
		"natural HDPE [M]; PP jerry can 0.043, clarified 0.080 (Buck, Sawant et al. 2023 [R abstract])",
	),
	wallClearPlastic: uncertain(
		0.1,
		0.6,
		0.85,
		"UV-A fraction",
		"PET bottles 0.10 to 0.85 (Buck, Sawant et al. 2023 [R abstract])",
	),
	wallClearGlass: uncertain(0.8, 0.85, 0.92, "UV-A fraction", "clear glass [M]"),
	wallAmberGlass: uncertain(
		0,
		0.001,
		0.01,
		"UV-A fraction",
		"back-calculated from a sunlit-window test, Am. J. Hosp. Pharm. 1982;39:1016 [C]",
	),
	shadeFraction: uncertain(0.1, 0.2, 0.2, "fraction of global irradiance", "open shade 0.1 to 0.2 [M]"),
	indoorsFraction: uncertain(0, 0.02, 0.05, "fraction of global irradiance", "indoors, by a window 0.02 [M]; range [choice]"),
	sunWarmingC: uncertain(0, 7.5, 10, "°C", "a container in the sun is 5 to 10 °C above the air by day [M]"),
	freshChlorateShare: uncertain(
		0,
		0.05,
		0.1,
		"g ClO3-/g Cl2",
		"fresh on-site product 0.02 to 0.10 [M]; AWWA project note 2011 [R]: significant, not well understood",
	),
	chlorateYield: uncertain(
		0.36439,
		0.36439,
		0.39231,
		"g ClO3-/g Cl2 lost",
		"8.7 : 1 chlorate to oxygen, Adam & Gordon 1999 [R abstract]; upper end: all of the loss makes chlorate [C]",
	),
	lnRateSdPHUnknown: uncertain(1.25, 1.6, 2, "ln units", "0.8 for the rate constants with 4.5·0.3 for the pH [C, choice]"),
	lnRateSdPHStrip: uncertain(
		0.9,
		1.25,
		1.6,
		"ln units",
		"0.8 with 4.5·0.21, strip ±0.3 combined with the prior of the pH [C, choice]",
	),
	lnRateSdPHMeter: uncertain(0.8, 0.9, 1.25, "ln units", "0.8 with 4.5·0.095, meter ±0.1 combined with the prior [C, choice]"),
	lnRateSdSiteHistory: uncertain(0.5, 0.8, 0.8, "ln units", "three or more tested batches at the site, 0.5 to 0.8 [choice]"),
});

/** One value for each uncertain constant. */
export type ChosenConstants = { readonly [Name in keyof typeof uncertainConstants]: number };

const names = Object.keys(uncertainConstants) as (keyof ChosenConstants)[];

/** The defaults, frozen. */
export const defaultConstants: ChosenConstants = Object.freeze(
	Object.fromEntries(names.map((name) => [name, uncertainConstants[name].default])) as ChosenConstants,
);

/**
 * The defaults with a programme's own values in their place.
 *
 * @param overrides any of the constants, each in its unit and within its documented range
 * @returns a complete frozen set
 * @throws RangeError for an unknown name, or for a value outside its range
 */
export function constantsWith(overrides: Partial<ChosenConstants>): ChosenConstants {
	for (const [name, value] of Object.entries(overrides)) {
		const known = (uncertainConstants as Record<string, UncertainConstant>)[name];
		if (!known) throw new RangeError(`"${name}" is no constant of the model; known are ${names.join(", ")}`);
		if (!(value >= known.min && value <= known.max)) {
			throw new RangeError(`${name} must be ${known.min} to ${known.max} ${known.unit}, got ${value}`);
		}
	}
	return Object.freeze({ ...defaultConstants, ...overrides });
}
