import { DAY_MS } from "../../../time/clock.js";
import type { Indicator } from "../indicator.js";
import { jars } from "../subjects/jars.js";

export const stockInStrength: Indicator = {
	code: "stock-in-strength",
	name: "Stock in strength",
	wanted: "more",
	subjects: jars,
	words: ({ usableLimitGPerL, longestRetestDays }) =>
		`Jars whose last test read ${usableLimitGPerL} g/L or more of available chlorine (the middle of what was read; the low end where the scale ended); of the jars that held bleach for drinking water when the period ended and had been tested within ${longestRetestDays} days before it.`,
	missing: "jars without a test in those days: a forecast is no measurement",
	source: { kind: "own", because: "the limit is the programme's rule usableLimitGPerL, the days are longestRetestDays" },
	met: ({ policy, period }) =>
		`CASE WHEN tested_at_ms IS NULL OR tested_at_ms < ${Math.ceil(period.untilMs - policy.longestRetestDays * DAY_MS)} THEN NULL
		 WHEN read_g_per_l >= ${policy.usableLimitGPerL} THEN 1 ELSE 0 END`,
};
