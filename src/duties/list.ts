import type { Calendars } from "../stock/places.js";
import type { Ids } from "../time/ids.js";
import type { DutyKind } from "./kind.js";
import { CareForGenerator } from "./kinds/care-for-generator.js";
import { CheckBattery } from "./kinds/check-battery.js";
import { CheckWater } from "./kinds/check-water.js";
import { CleanContainer } from "./kinds/clean-container.js";
import { CollectBleach } from "./kinds/collect-bleach.js";
import { CompareTests } from "./kinds/compare-tests.js";
import { DiscardJar } from "./kinds/discard-jar.js";
import { FindFault } from "./kinds/find-fault.js";
import { MakeBleach } from "./kinds/make-bleach.js";
import { RenewReagent } from "./kinds/renew-reagent.js";
import { ReplenishItem } from "./kinds/replenish-item.js";
import { RetestStoredBleach } from "./kinds/retest.js";
import { RunAgain } from "./kinds/run-again.js";

/** What kinds of work are made of. */
export interface KindParts {
	readonly ids: Ids;
	readonly calendars: Calendars;
}

/** Every kind of due work. A new one is a file in kinds/ and a line here. */
export function dutyKinds({ ids, calendars }: KindParts): DutyKind[] {
	return [
		new RetestStoredBleach(ids, calendars),
		new CheckWater(ids, calendars),
		new CleanContainer(ids),
		new RunAgain({ ids, calendars }),
		new FindFault(ids),
		new CareForGenerator(ids),
		new CheckBattery(ids),
		new RenewReagent(ids),
		new CompareTests({ ids, calendars }),
		new CollectBleach(ids, calendars),
		new MakeBleach(ids, calendars),
		new DiscardJar(ids),
		new ReplenishItem(ids),
	];
}
