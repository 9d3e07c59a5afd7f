import type { Indicator } from "../indicator.js";
import { readHouseholds, visitStretches } from "../subjects/read-households.js";

export const householdsVisited: Indicator = {
	code: "households-visited-in-time",
	name: "Households visited in time",
	wanted: "more",
	subjects: readHouseholds,
	words: ({ water }) =>
		`Households whose water was read, by a reading that counts, in every whole interval of ${water.checkIntervalDays} days of the period, counted from its first day; of all households with a container on file.`,
	missing: "households without a container on file, and all of them where the period holds no whole interval",
	source: { kind: "own", because: "the guidance names no interval; this one is the programme's rule checkIntervalDays" },
	met: (asked) => {
		const { count } = visitStretches(asked);
		return count === 0
			? "CAST(NULL AS integer)"
			: `CASE WHEN containers = 0 THEN NULL WHEN stretches >= ${count} THEN 1 ELSE 0 END`;
	},
};
