import type { Indicator } from "../indicator.js";
import { readHouseholds } from "../subjects/read-households.js";
import { TOOLKIT } from "./toolkit.js";

/** Fewer say nothing about being consistent. Own choice. */
export const FEWEST_READINGS = 2;

export const treatedConsistently: Indicator = {
	code: "treated-consistently",
	name: "Households that treat their water consistently",
	wanted: "more",
	subjects: readHouseholds,
	words: ({ water }) =>
		`Households whose stored water held at least ${water.leastAtUseMgPerL} mg/L of free chlorine at every reading of the period that counts; of the households with ${FEWEST_READINGS} or more such readings.`,
	missing: `households with fewer than ${FEWEST_READINGS} readings that count in the period`,
	source: {
		kind: "published",
		source: `${TOOLKIT}, consistent treatment (indicator 8, from memory)`,
		how: "ours: measured by residuals instead of asked for, over the period's readings",
	},
	met: () => `CASE WHEN readings < ${FEWEST_READINGS} THEN NULL ELSE all_positive END`,
};
