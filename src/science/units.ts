/** Milliseconds in a day. */
export const MS_PER_DAY = 86_400_000;
/** Seconds in a day. */
export const SECONDS_PER_DAY = 86_400;
/** Molar mass of Cl2, g/mol; strength is counted in it. Source: IUPAC 2021 atomic weight of chlorine, 35.453 conventional. */
export const CL2_G_PER_MOL = 70.906;
/** Molar mass of NaOCl, g/mol. */
export const NAOCL_G_PER_MOL = 74.442;
/** Molar mass of NaCl, g/mol. */
export const NACL_G_PER_MOL = 58.443;
/** Molar mass of ClO3-, g/mol. */
export const CHLORATE_G_PER_MOL = 83.45;
/** 0 °C in kelvin. */
export const ZERO_C_IN_K = 273.15;
/** Gas constant as the kinetic sources use it, J/(mol K). */
export const GAS_CONSTANT = 8.314;

/** Molar free chlorine, mol/L, of a strength in g/L as Cl2. */
export const molPerLOfStrength = (strengthGPerL: number): number => strengthGPerL / CL2_G_PER_MOL;

/** Strength, g/L as Cl2, of a molar free chlorine in mol/L. */
export const strengthGPerLOfMolar = (molPerL: number): number => molPerL * CL2_G_PER_MOL;

/** Strength in g/L as Cl2 of a percentage by volume (w/v, also "trade %"): 1 % is 10 g/L. */
export const strengthGPerLOfPercent = (percentWeightPerVolume: number): number => percentWeightPerVolume * 10;

/** Percentage by volume (w/v) of a strength in g/L as Cl2. */
export const percentOfStrength = (strengthGPerL: number): number => strengthGPerL / 10;

/** Strength in g/L as Cl2 of a percentage by weight (w/w) in a liquid of the given density in kg/L. */
export const strengthGPerLOfWeightPercent = (percentByWeight: number, densityKgPerL: number): number =>
	percentByWeight * densityKgPerL * 10;

/** Grams of NaOCl a litre holds at a strength in g/L as Cl2. */
export const sodiumHypochloriteGPerL = (strengthGPerL: number): number => (strengthGPerL * NAOCL_G_PER_MOL) / CL2_G_PER_MOL;

/** Kelvin of a temperature in °C. */
export const kelvinOf = (temperatureC: number): number => temperatureC + ZERO_C_IN_K;
