import { DAY_MS } from "../../../time/clock.js";
import type { Indicator } from "../indicator.js";
import { jars } from "../subjects/jars.js";

export const stockInDate: Indicator = {
	code: "stock-in-date",
	name: "Stock in date",
	wanted: "more",
	subjects: jars,
	words: ({ oldestUseDays }) =>
		`Jars whose bleach was at most ${oldestUseDays} days old when the period ended; of the jars that held bleach for drinking water then.`,
	missing: "none: when bleach was made is always on file",
	source: { kind: "own", because: "the age is the programme's rule oldestUseDays" },
	met: ({ policy, period }) =>
		`CASE WHEN made_at_ms >= ${Math.ceil(period.untilMs - policy.oldestUseDays * DAY_MS)} THEN 1 ELSE 0 END`,
};
