import { codeColumn, referenceColumn, textColumn } from "./column.js";
import { dateColumn } from "./containers.js";
import { importKind } from "./kind.js";
import { toArea } from "./references.js";

/** Public holidays: days on which nobody of an area, or of one below it, is written to about work that isn't urgent. */
export const holidayImport = importKind({
	name: "holidays",
	noun: "holiday",
	table: "holiday",
	columns: {
		code: codeColumn(),
		area_code: referenceColumn(toArea),
		on_date: dateColumn,
		name: textColumn(200),
	},
	fieldsOf: (values, { idOf }) => ({ area_id: idOf("area_code"), on_date: values.on_date, name: values.name }),
});
