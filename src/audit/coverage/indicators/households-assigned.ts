import type { Indicator } from "../indicator.js";
import { households } from "../subjects/households.js";

export const householdsAssigned: Indicator = {
	code: "households-assigned",
	name: "Households assigned",
	wanted: "more",
	subjects: households,
	words: () => "Households that had a volunteer when the period ended, of all households on file.",
	missing: "none: whether a household has a volunteer is always known",
	source: { kind: "own", because: "the guidance counts what households do, not who looks after them" },
	met: () => "CASE WHEN volunteer_id IS NULL THEN 0 ELSE 1 END",
};
