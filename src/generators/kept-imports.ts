import { choiceColumn, codeColumn, numberColumn, orEmpty, referenceColumn, textColumn } from "../programme/import/column.js";
import { dateColumn } from "../programme/import/containers.js";
import { importKind } from "../programme/import/kind.js";
import { momentColumn, momentMsOf } from "../programme/import/moment.js";
import { toArea, toPerson } from "../programme/import/references.js";
import { kitNames } from "../science/kits.js";
import { localTimeOf } from "../time/local.js";
import { toGenerator } from "./import.js";
import { lotDateProblems } from "./kit-lots.js";

/** Batteries as their labels rate them. */
export const batteryImport = importKind({
	name: "batteries",
	noun: "battery",
	table: "battery",
	columns: {
		code: codeColumn(),
		area_code: referenceColumn(toArea),
		generator_code: orEmpty(referenceColumn(toGenerator)),
		rated_ah: numberColumn({ from: 1, to: 2000, unit: "ampere-hours on the label" }),
		rated_hours: numberColumn({ from: 1, to: 100, unit: "hours that the label is rated at" }),
		peukert_exponent: numberColumn({ from: 1, to: 1.6, unit: "flooded 1.2 to 1.6, gel 1.1 to 1.25, AGM 1.05 to 1.15" }),
		since: momentColumn,
	},
	whenAdded: { in_use: true },
	fieldsOf(values, { nowMs, found, idOf, refuse }) {
		const timeZone = found("area_code")?.timeZone ?? "UTC";
		const sinceMs = momentMsOf(values.since, timeZone) ?? Number.NaN;
		if (!(sinceMs <= nowMs)) refuse("since", `must not be in the future; it is ${localTimeOf(nowMs, timeZone)} there now`);
		return {
			area_id: idOf("area_code"),
			generator_id: idOf("generator_code"),
			rated_ah: values.rated_ah,
			rated_hours: values.rated_hours,
			peukert_exponent: values.peukert_exponent,
			since_ms: sinceMs,
		};
	},
});

const DATE_COLUMN_OF = { openedOn: "opened_on", expiresOn: "expires_on" } as const;

/** Lots of test reagent. */
export const kitLotImport = importKind({
	name: "kit-lots",
	noun: "lot of reagent",
	table: "kit_lot",
	subject: "kit lot",
	columns: {
		code: codeColumn(),
		kit: choiceColumn(...kitNames),
		lot: textColumn(60),
		area_code: referenceColumn(toArea),
		holder_code: orEmpty(referenceColumn(toPerson)),
		received_on: dateColumn,
		expires_on: dateColumn,
		opened_on: orEmpty(dateColumn),
	},
	whenAdded: { state: "in use" },
	fieldsOf(values, { idOf, refuse }) {
		const lot = { receivedOn: values.received_on, expiresOn: values.expires_on, openedOn: values.opened_on };
		for (const { at, message } of lotDateProblems(lot)) refuse(DATE_COLUMN_OF[at], message);
		return {
			kit: values.kit,
			lot: values.lot,
			area_id: idOf("area_code"),
			holder_id: idOf("holder_code"),
			received_on: values.received_on,
			expires_on: values.expires_on,
			opened_on: values.opened_on,
		};
	},
});
