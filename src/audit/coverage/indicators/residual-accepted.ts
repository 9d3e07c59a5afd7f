import { guideline } from "../../../water/protocol/guideline.js";
import type { Indicator } from "../indicator.js";
import { readHouseholds, SAID } from "../subjects/read-households.js";
import { TOOLKIT } from "./toolkit.js";

export const residualAccepted: Indicator = {
	code: "residual-accepted",
	name: "Households with the residual in the accepted band",
	wanted: "more",
	subjects: readHouseholds,
	words: ({ water }) =>
		`Households whose water was found fit to drink by their own protocol at the last reading of the period that counts; where no protocol judged it, whose water held ${water.leastAtUseMgPerL} to ${guideline.mostMgPerL} mg/L of free chlorine; of the households with such a reading.`,
	missing: "households without a reading that counts in the period",
	source: {
		kind: "published",
		source: `${TOOLKIT}, water that meets the guideline values (indicator 20, from memory); WHO Guidelines for drinking-water quality: at least 0.2 mg/L at the point of use, at most 5 mg/L`,
		how: "ours: the household's protocol decides where it judged, and the last reading speaks for the period",
	},
	met: () => `CASE WHEN readings = 0 THEN NULL WHEN said >= ${SAID.accepted} THEN 1 ELSE 0 END`,
};
