import type { Indicator } from "../indicator.js";
import { readHouseholds, SAID } from "../subjects/read-households.js";
import { TOOLKIT } from "./toolkit.js";

export const residualPositive: Indicator = {
	code: "residual-positive",
	name: "Households with a positive free chlorine residual",
	wanted: "more",
	subjects: readHouseholds,
	words: ({ water }) =>
		`Households whose stored water held at least ${water.leastAtUseMgPerL} mg/L of free chlorine at the last reading of the period that counts; of the households with such a reading.`,
	missing: "households without a reading that counts in the period",
	source: {
		kind: "published",
		source: `${TOOLKIT}, households with a positive free chlorine residual in drinking-water (indicator 18, from memory)`,
		how: "the limit is the programme's rule leastAtUseMgPerL (WHO Guidelines for drinking-water quality: 0.2 mg/L at the point of use); ours: the last reading speaks for the period",
	},
	met: () => `CASE WHEN readings = 0 THEN NULL WHEN said % ${SAID.positive * 2} >= ${SAID.positive} THEN 1 ELSE 0 END`,
};
