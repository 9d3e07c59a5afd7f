import type { Indicator } from "../indicator.js";
import { readHouseholds, SAID } from "../subjects/read-households.js";

export const effectiveCoverage: Indicator = {
	code: "effective-coverage",
	name: "Effective coverage",
	wanted: "more",
	subjects: readHouseholds,
	words: ({ water }) =>
		`Households whose stored water held at least ${water.leastAtUseMgPerL} mg/L of free chlorine at the last reading of the period that counts; of all households on file, so that a household that nobody read counts as one without.`,
	missing: "none: a household without a reading stands in the denominator",
	source: {
		kind: "own",
		because: "the positive residual over everybody who should have it, the strictest reading of the same facts",
	},
	met: () => `CASE WHEN readings > 0 AND said % ${SAID.positive * 2} >= ${SAID.positive} THEN 1 ELSE 0 END`,
};
