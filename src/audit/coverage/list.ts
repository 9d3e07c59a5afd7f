import type { Indicator } from "./indicator.js";
import { effectiveCoverage } from "./indicators/effective-coverage.js";
import { generatorsInCare } from "./indicators/generators-in-care.js";
import { householdsAssigned } from "./indicators/households-assigned.js";
import { householdsVisited } from "./indicators/households-visited.js";
import { remindersFailed } from "./indicators/reminders-failed.js";
import { residualAccepted } from "./indicators/residual-accepted.js";
import { residualPositive } from "./indicators/residual-positive.js";
import { stockInDate } from "./indicators/stock-in-date.js";
import { stockInStrength } from "./indicators/stock-in-strength.js";
import { tasksInTime } from "./indicators/tasks-in-time.js";
import { treatedConsistently } from "./indicators/treated-consistently.js";
import { waterTreated } from "./indicators/water-treated.js";

/** Every figure of coverage, in the order in which it is shown; a new one is a line here. */
export const indicators: readonly Indicator[] = [
	householdsAssigned,
	householdsVisited,
	waterTreated,
	residualPositive,
	residualAccepted,
	treatedConsistently,
	effectiveCoverage,
	stockInDate,
	stockInStrength,
	generatorsInCare,
	tasksInTime,
	remindersFailed,
];
