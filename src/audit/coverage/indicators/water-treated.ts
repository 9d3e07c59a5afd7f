import type { Indicator } from "../indicator.js";
import { readHouseholds, SAID } from "../subjects/read-households.js";
import { TOOLKIT } from "./toolkit.js";

export const waterTreated: Indicator = {
	code: "water-treated",
	name: "Households with water treated",
	wanted: "more",
	subjects: readHouseholds,
	words: () =>
		"Households whose stored water, at the last reading of the period that counts, had been treated: a dose was known for it, or free chlorine was found in it; of the households with such a reading.",
	missing: "households without a reading that counts in the period",
	source: {
		kind: "published",
		source: `${TOOLKIT}, reported and observed treatment (indicators 1 and 2, from memory)`,
		how: "ours: a dose on file or chlorine in the water stands for the report, and the last reading speaks for the period",
	},
	met: () => `CASE WHEN readings = 0 THEN NULL WHEN said % ${SAID.treated * 2} >= ${SAID.treated} THEN 1 ELSE 0 END`,
};
