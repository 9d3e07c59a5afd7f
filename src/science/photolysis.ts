import { type ChosenConstants, defaultConstants } from "./constants.js";
import { molPerLOfStrength } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** What the wall of a container is made of, as far as light is concerned. */
export type Wall = "opaque" | "opaqueWhite" | "translucent" | "clearPlastic" | "clearGlass" | "amberGlass";
/** How much of the sky's light reaches a container. */
export type Exposure = "indoors" | "shade" | "directSun";

const wallConstants: Record<Wall, keyof ChosenConstants> = {
	opaque: "wallOpaque",
	opaqueWhite: "wallOpaqueWhite",
	translucent: "wallTranslucent",
	clearPlastic: "wallClearPlastic",
	clearGlass: "wallClearGlass",
	amberGlass: "wallAmberGlass",
};

/** Share of the UV-A that a wall lets through, 0 to 1. Source: `wall...` in constants.ts. */
export const wallTransmittance = (wall: Wall, constants: ChosenConstants = defaultConstants): number =>
	constants[wallConstants[wall]];

/** Share of the global irradiance that reaches a container where it stands, 0 to 1. Source: `...Fraction` in constants.ts. */
export function exposureFraction(exposure: Exposure, constants: ChosenConstants = defaultConstants): number {
	if (exposure === "directSun") return 1;
	return exposure === "shade" ? constants.shadeFraction : constants.indoorsFraction;
}

/**
 * Mean light in a layer against the light at its surface: a solution shades itself.
 *
 * @param absorbance decadic absorbance over the depth, at least 0
 * @returns (1 - 10^-A)/(2.303·A), 1 for A = 0, falling to 0
 * @throws RangeError for a negative absorbance or NaN
 *
 * Source: Morowitz 1950, Science 111:229; standard in photochemistry (Bolton & Linden 2003, J. Environ. Eng. 129:209).
 */
export function screeningFactor(absorbance: number): number {
	const exponent = Math.LN10 * valueWithin("absorbance", absorbance, 0, Number.MAX_VALUE);
	return exponent === 0 ? 1 : -Math.expm1(-exponent) / exponent;
}

/**
 * Rate of loss by sun at the surface of a dilute solution (a few mg/L), a clear summer noon.
 *
 * @param hoclFraction share of the free chlorine that is HOCl, 0 to 1
 * @param irradianceWPerM2 global irradiance, 0 to 1500 W/m² (1000 is the noon of the source)
 * @param lightFraction wall, shade and screening factor multiplied, 0 to 1
 * @returns first-order rate in 1/s. Never use it for a stock solution: that absorbs its UV in the first centimetres.
 * @throws RangeError outside these ranges
 *
 * Source: Nowell & Hoigné 1992, Water Res. 26:593-598, abstract: 2e-4 1/s for HOCl, 1.2e-3 1/s for OCl-, 47° N.
 */
export function diluteSunLossRatePerS(hoclFraction: number, irradianceWPerM2: number, lightFraction: number): number {
	const acid = valueWithin("HOCl fraction", hoclFraction, 0, 1);
	const sun = valueWithin("irradiance in W/m²", irradianceWPerM2, 0, 1500) / 1000;
	return (2e-4 * acid + 1.2e-3 * (1 - acid)) * sun * valueWithin("light fraction", lightFraction, 0, 1);
}

// Columns: concentration times path in M·cm, and the light absorbed against that at 1 M·cm.
const absorbed: readonly (readonly [number, number])[] = [
	[0.001, 0.062],
	[0.003, 0.15],
	[0.01, 0.3],
	[0.03, 0.451],
	[0.1, 0.624],
	[0.3, 0.794],
	[1, 1],
	[2, 1.126],
];

const THINNEST_M_CM = 0.001;
const THICKEST_M_CM = 100;

/**
 * Between which lit areas `stockSunLossGPerL` holds for a solution; 0 always does.
 *
 * @param volumeL above 0 to 10 000 L
 * @param strengthGPerL above 0 to 200 g/L
 * @returns m², the first smaller than the second
 */
export function litAreaRangeM2(volumeL: number, strengthGPerL: number): [least: number, most: number] {
	const molarVolume = (molPerLOfStrength(strengthGPerL) * volumeL) / 10;
	return [molarVolume / THICKEST_M_CM, molarVolume / THINNEST_M_CM];
}

/**
 * Light a thick solution absorbs, weighted with what it does there, against a solution of 1 M·cm.
 *
 * @param concentrationPathMCm free chlorine in mol/L times path in cm, 0.001 to 100 M·cm; the table ends at 2, beyond it the
 * last slope goes on, which is more than the truth
 * @returns W, 0.062 at 0.001, 1 at 1, 1.126 at 2 M·cm
 * @throws RangeError outside 0.001 to 100 M·cm: thinner solutions follow `diluteSunLossRatePerS`
 *
 * Source: computed independently from the ASTM G173-03 global spectrum, 290-400 nm, and a two-sided Gaussian band of OCl- at
 * 292 nm (362 1/(M cm); from memory) with the quantum yields of Buxton & Subhani 1972 (from memory).
 */
export function absorbedLightRatio(concentrationPathMCm: number): number {
	const x = valueWithin(
		"concentration times path in M·cm",
		concentrationPathMCm,
		THINNEST_M_CM,
		THICKEST_M_CM,
		"not a thick stock solution",
	);
	const above = absorbed.findIndex(([edge]) => edge >= x);
	const upper = above === -1 ? absorbed.length - 1 : Math.max(1, above);
	const [x0, w0] = absorbed[upper - 1]!;
	const [x1, w1] = absorbed[upper]!;
	return w0 + ((w1 - w0) * Math.log(x / x0)) / Math.log(x1 / x0);
}

/**
 * Loss of a stock solution by sunlight: limited by the photons that enter, so it doesn't slow down as the strength falls.
 *
 * dS/dt = -Y·tau·(A/V)·W·G
 *
 * @param irradiationMJPerM2 G, light where the container stands (already shaded), MJ/m² over the time, at least 0
 * @param transmittance tau of the wall in the UV-A, 0 to 1
 * @param litAreaM2 A, projected lit area, 0 to 10 m²
 * @param volumeL V, above 0 to 10 000 L
 * @param strengthGPerL strength that sets how much light is absorbed, above 0 to 200 g/L
 * @param constants the uncertain constants; `sunYieldGPerMJ` is Y
 * @returns g/L as Cl2 lost over the time; it may exceed what is there, the caller stops at 0
 * @throws RangeError outside these ranges, or if strength times depth leaves 0.001 to 100 M·cm
 *
 * Source: photon budget from ASTM G173-03 with Y in constants.ts (computed independently, x/÷2.5).
 */
export function stockSunLossGPerL(
	irradiationMJPerM2: number,
	transmittance: number,
	litAreaM2: number,
	volumeL: number,
	strengthGPerL: number,
	constants: ChosenConstants = defaultConstants,
): number {
	const light = valueWithin("irradiation in MJ/m²", irradiationMJPerM2, 0, 1e6);
	const tau = valueWithin("transmittance", transmittance, 0, 1);
	const area = valueWithin("lit area in m²", litAreaM2, 0, 10);
	const volume = valueWithin("volume in L", volumeL, 1e-3, 10_000);
	const molar = molPerLOfStrength(valueWithin("strength in g/L", strengthGPerL, 1e-3, 200));
	if (light === 0 || tau === 0 || area === 0) return 0;
	const meanPathCm = volume / area / 10;
	return constants.sunYieldGPerMJ * tau * (area / volume) * absorbedLightRatio(molar * meanPathCm) * light;
}
