import type { Calendars } from "../stock/places.js";
import type { Ids } from "../time/ids.js";
import type { DutyKind } from "./kind.js";
import { RetestStoredBleach } from "./kinds/retest.js";

/** What kinds of work are made of. */
export interface KindParts {
	readonly ids: Ids;
	readonly calendars: Calendars;
}

/** Every kind of due work. A new one is a file in kinds/ and a line here. */
export function dutyKinds({ ids, calendars }: KindParts): DutyKind[] {
	return [new RetestStoredBleach(ids, calendars)];
}
