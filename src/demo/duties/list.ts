import { checkWater } from "./check-water.js";
import { cleanContainer } from "./clean-container.js";
import { collectBleach } from "./collect-bleach.js";
import type { DemoDuty } from "./duty.js";
import { makeBleach } from "./make-bleach.js";
import { retest } from "./retest.js";

/** What the district's people know how to answer. A new kind of due work is a file beside this one and a line here. */
export const demoDuties: readonly DemoDuty[] = [retest, checkWater, cleanContainer, collectBleach, makeBleach];
