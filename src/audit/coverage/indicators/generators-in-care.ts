import type { Indicator } from "../indicator.js";
import { CARE_GRACE_HOURS, generators } from "../subjects/generators.js";

export const generatorsInCare: Indicator = {
	code: "generators-in-care",
	name: "Generators in care",
	wanted: "more",
	subjects: generators,
	words: () =>
		`Generators of which no care that was due more than ${CARE_GRACE_HOURS} hours before was still open when the period ended; of the generators in service then that had run.`,
	missing: "generators that had never run: nothing is planned for them",
	source: { kind: "own", because: "care is planned by the programme's rules for generators" },
	met: () => "CASE WHEN runs = 0 THEN NULL WHEN late_cares = 0 THEN 1 ELSE 0 END",
};
