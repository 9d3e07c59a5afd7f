import { choiceColumn, codeColumn, numberColumn, orEmpty, referenceColumn, textColumn, wholeColumn } from "./column.js";
import { importKind } from "./kind.js";
import { toArea, toPerson } from "./references.js";

/** Households, each with its place, its water and the volunteer who visits it. */
export const householdImport = importKind({
	name: "households",
	noun: "household",
	table: "household",
	columns: {
		code: codeColumn(),
		area_code: referenceColumn(toArea),
		volunteer_code: orEmpty(referenceColumn(toPerson)),
		persons: wholeColumn({ from: 1, to: 500, unit: "persons" }),
		water_source: textColumn(100),
		turbidity: choiceColumn("clear", "cloudy", "very turbid"),
		latitude_deg: orEmpty(numberColumn({ from: -90, to: 90, unit: "degrees, north positive" })),
		longitude_deg: orEmpty(numberColumn({ from: -180, to: 180, unit: "degrees, east positive" })),
	},
	fieldsOf(values, { idOf, refuse }) {
		if ((values.latitude_deg === null) !== (values.longitude_deg === null)) {
			const empty = values.latitude_deg === null ? "latitude_deg" : "longitude_deg";
			refuse(empty, "must not be empty where the other coordinate is given; both or neither");
		}
		return {
			area_id: idOf("area_code"),
			volunteer_id: idOf("volunteer_code"),
			persons: values.persons,
			water_source: values.water_source,
			turbidity: values.turbidity,
			latitude_deg: values.latitude_deg,
			longitude_deg: values.longitude_deg,
		};
	},
});
