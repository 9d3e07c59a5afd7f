import { careForGenerator } from "./care-for-generator.js";
import { checkBattery } from "./check-battery.js";
import { checkWater } from "./check-water.js";
import { cleanContainer } from "./clean-container.js";
import { collectBleach } from "./collect-bleach.js";
import { compareTests } from "./compare-tests.js";
import { discardJar } from "./discard-jar.js";
import type { DemoDuty } from "./duty.js";
import { findFault } from "./find-fault.js";
import { makeBleach } from "./make-bleach.js";
import { renewReagent } from "./renew-reagent.js";
import { retest } from "./retest.js";
import { runAgain } from "./run-again.js";

/** What the district's people know how to answer. A new kind of due work is a file beside this one and a line here. */
export const demoDuties: readonly DemoDuty[] = [
	retest,
	checkWater,
	cleanContainer,
	collectBleach,
	makeBleach,
	discardJar,
	careForGenerator,
	checkBattery,
	renewReagent,
	runAgain,
	findFault,
	compareTests,
];
