import { measure, numberBetween, numbersBetween, oneOf, switchedOn } from "../option-values.js";
import type { Disagreement, OptionTable, ReadOptions, ValuesOf } from "../options.js";

/** What a dose card is made from. */
export const doseCardOptions = {
	strength: {
		placeholder: "g/L",
		about: "strength of the bleach today, available chlorine",
		schema: numberBetween(0.1, 15, "g/L"),
	},
	low: {
		placeholder: "g/L",
		about: "weak end of its 90 % interval (default: the strength divided by 1.22, as unsure as a fresh batch's record)",
		schema: numberBetween(0.05, 15, "g/L").optional(),
	},
	high: {
		placeholder: "g/L",
		about: "strong end of its 90 % interval (default: the strength times 1.22)",
		schema: numberBetween(0.1, 30, "g/L").optional(),
	},
	madeStrength: {
		placeholder: "g/L",
		about: "strength when made, for the chlorate that has formed since (default: 5, or today's strength if that is more)",
		schema: numberBetween(0.1, 15, "g/L").optional(),
	},
	limit: {
		placeholder: "g/L",
		about: "strength under which the programme doesn't use it for drinking water",
		schema: numberBetween(0.5, 10, "g/L"),
		fallback: "3.5",
	},
	volumes: {
		placeholder: "L,L",
		about: "containers of water",
		schema: numbersBetween(0.25, 1000, "L", 12),
		fallback: "10,20,25",
	},
	measure: {
		placeholder: "measure",
		about: "syringe:10:0.5 (holds 10 mL, steps of 0.5 mL), cap:5 or spoon:5",
		schema: measure,
		fallback: "syringe:10:0.5",
	},
	waterC: { placeholder: "°C", about: "temperature of the water", schema: numberBetween(0, 45, "°C"), fallback: "24" },
	phClass: {
		placeholder: "class",
		about: "of the water: below8 or above8 (default: taken as below 8)",
		schema: oneOf(["below8", "above8"]).optional(),
	},
	json: { about: "print the same as JSON", schema: switchedOn },
} as const satisfies OptionTable;

export type DoseCardOptions = ReadOptions<typeof doseCardOptions>;
export type DoseCardValues = ValuesOf<typeof doseCardOptions>;

/** What can only be wrong between options. */
export function doseCardDisagreements(values: Partial<DoseCardValues>): Disagreement<typeof doseCardOptions>[] {
	const { strength, low, high, madeStrength } = values;
	if (strength === undefined) return [];
	const found: Disagreement<typeof doseCardOptions>[] = [];
	if (low !== undefined && low > strength) found.push({ at: "low", message: `must not be above the strength, ${strength} g/L` });
	if (high !== undefined && high < strength)
		found.push({ at: "high", message: `must not be below the strength, ${strength} g/L` });
	if (madeStrength !== undefined && madeStrength < strength)
		found.push({ at: "madeStrength", message: `must not be below the strength today, ${strength} g/L: bleach only weakens` });
	return found;
}
