import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import type { Exposure, Wall } from "../../science/exposure.js";
import { kitNames } from "../../science/kits.js";
import { kitNamed, readingOnScale } from "../../stock/kits.js";
import { calendarDate, numberBetween, oneOf, switchedOn } from "../option-values.js";
import type { Disagreement, OptionTable, ReadOptions, ValuesOf } from "../options.js";
import { testText } from "./test-text.js";

/** Names of walls on the command line. */
export const WALLS: Readonly<Record<string, Wall>> = {
	opaque: "opaque",
	"opaque-white": "opaqueWhite",
	translucent: "translucent",
	"clear-plastic": "clearPlastic",
	"clear-glass": "clearGlass",
	"amber-glass": "amberGlass",
};

/** Names of places on the command line. */
export const EXPOSURES: Readonly<Record<string, Exposure>> = { indoors: "indoors", shade: "shade", "direct-sun": "directSun" };

/** A batch, its place and the programme's rules, as they are described on the command line. */
export const forecastOptions = {
	strength: {
		placeholder: "g/L",
		about: "strength when made, as available chlorine; 0.5 % is 5",
		schema: numberBetween(0.5, 15, "g/L"),
	},
	strengthLnSd: {
		placeholder: "number",
		about: "how sure that is, as standard deviation of its logarithm: 0.15 if it was measured, 0.25 from the run's record alone",
		schema: numberBetween(0.15, 1, ""),
		fallback: "0.15",
	},
	madeOn: { placeholder: "date", about: "day of making", schema: calendarDate, fallback: "2026-03-01" },
	ageDays: {
		placeholder: "days",
		about: "age of the batch today (default: the day of the last test, or 0)",
		schema: numberBetween(0, 365, "days").optional(),
	},
	ph: { placeholder: "pH", about: "of the fresh batch, if it was measured", schema: numberBetween(7, 13, "").optional() },
	phBy: {
		placeholder: "means",
		about: "strip or meter (default with --ph: strip)",
		schema: oneOf(["strip", "meter"]).optional(),
	},
	phAtC: {
		placeholder: "°C",
		about: "temperature of the pH reading (default with --ph: 25)",
		schema: numberBetween(0, 40, "°C").optional(),
	},
	saltGPerL: {
		placeholder: "g/L",
		about: "salt in a litre of the brine's water",
		schema: numberBetween(0, 350, "g/L"),
		fallback: "30",
	},
	dayC: { placeholder: "°C", about: "mean over the warm half of the day", schema: numberBetween(-20, 45, "°C"), fallback: "30" },
	nightC: {
		placeholder: "°C",
		about: "mean over the cool half of the day",
		schema: numberBetween(-20, 45, "°C"),
		fallback: "22",
	},
	cloud: { placeholder: "share", about: "share of the sky under cloud", schema: numberBetween(0, 1, ""), fallback: "0.4" },
	latitude: { placeholder: "°", about: "north positive", schema: numberBetween(-90, 90, "°"), fallback: "0" },
	altitudeM: { placeholder: "m", about: "height above the sea", schema: numberBetween(-430, 6000, "m"), fallback: "0" },
	wall: {
		placeholder: "kind",
		about: `of the jar: ${Object.keys(WALLS).join(", ")}`,
		schema: oneOf(Object.keys(WALLS)),
		fallback: "opaque",
	},
	exposure: {
		placeholder: "place",
		about: Object.keys(EXPOSURES).join(", "),
		schema: oneOf(Object.keys(EXPOSURES)),
		fallback: "indoors",
	},
	volumeL: { placeholder: "L", about: "bleach in the jar", schema: numberBetween(0.1, 1000, "L"), fallback: "5" },
	litAreaM2: {
		placeholder: "m²",
		about: "area of the jar that light falls on",
		schema: numberBetween(0, 10, "m²"),
		fallback: "0.03",
	},
	test: {
		placeholder: "text...",
		about: 'a test of the jar, "day 4: 2 at 1 mL in 2 L": read 2 (or 5+) in 1 mL made up with water to 2 L; may be repeated',
		schema: z.array(testText).default([]),
	},
	kit: {
		placeholder: "name",
		about: `of the tests: ${kitNames.join(", ")}`,
		schema: oneOf(kitNames),
		fallback: "comparator 0-5",
	},
	days: { placeholder: "days", about: "how far to look ahead", schema: numberBetween(1, 120, "days"), fallback: "30" },
	limit: {
		placeholder: "g/L",
		about: "strength under which the programme doesn't use it for drinking water",
		schema: numberBetween(0.5, 10, "g/L"),
		fallback: "3.5",
	},
	tolerance: {
		placeholder: "chance",
		about: "chance of being under the limit at which a test is asked for",
		schema: numberBetween(0.005, 0.45, ""),
		fallback: "0.05",
	},
	json: { about: "print the same as JSON", schema: switchedOn },
	svg: {
		placeholder: "file",
		about: "also draw the curve into this file",
		schema: z.string().min(1, "must be a file name").optional(),
	},
} as const satisfies OptionTable;

export type ForecastOptions = ReadOptions<typeof forecastOptions>;
export type ForecastValues = ValuesOf<typeof forecastOptions>;

/** What can only be wrong between options. */
export function forecastDisagreements(values: Partial<ForecastValues>): Disagreement<typeof forecastOptions>[] {
	const found: Disagreement<typeof forecastOptions>[] = [];
	const { ph, phBy, phAtC, ageDays, test = [], kit } = values;
	if (ph === undefined && "ph" in values) {
		if (phBy !== undefined) found.push({ at: "phBy", message: "needs the reading: give --ph too, or leave both out" });
		if (phAtC !== undefined) found.push({ at: "phAtC", message: "needs the reading: give --ph too, or leave both out" });
	}
	for (const { text, day, reading } of test) {
		if (ageDays !== undefined && day > ageDays)
			found.push({ at: "test", message: `"${text}" lies after today, which is day ${ageDays}; give --age-days ${day} or more` });
		const refusal = kit === undefined ? undefined : refusalOfReading(kit, reading);
		if (refusal !== undefined) found.push({ at: "test", message: `"${text}": ${refusal}` });
	}
	return found;
}

function refusalOfReading(kit: string, reading: string): string | undefined {
	try {
		readingOnScale(kitNamed(kit), reading);
		return undefined;
	} catch (error) {
		if (error instanceof InputError) return error.message;
		throw error;
	}
}
