import {
	choiceColumn,
	numberColumn,
	orEmpty,
	positiveColumn,
	referenceColumn,
	textColumn,
	wholeColumn,
} from "../programme/import/column.js";
import { importKind } from "../programme/import/kind.js";
import { toHousehold } from "../programme/import/references.js";

const litres = (to: number) => orEmpty(numberColumn({ from: 0, to, unit: "litres a person and day" }));
const month = () => orEmpty(wholeColumn({ from: 1, to: 12, unit: "month of the year" }));

/** How households use water, as far as they were asked; an empty cell is the programme's figure. */
export const habitsImport = importKind({
	name: "habits",
	noun: "household's habits",
	table: "household_water",
	subject: "household",
	key: { column: "household_code", field: "household_id" },
	columns: {
		household_code: referenceColumn(toHousehold),
		drinking_l_per_person_day: litres(20),
		food_l_per_person_day: litres(20),
		hygiene_l_per_person_day: litres(100),
		refill_every_hours: orEmpty(positiveColumn({ to: 168, unit: "hours from one filling to the next" })),
		season_from_month: month(),
		season_until_month: month(),
		season_source: orEmpty(textColumn(100)),
		season_turbidity: orEmpty(choiceColumn("clear", "cloudy", "very turbid")),
	},
	fieldsOf(values, { idOf, refuse }) {
		const season = ["season_from_month", "season_until_month", "season_turbidity"] as const;
		const empty = season.filter((column) => values[column] === null);
		if (empty.length > 0 && empty.length < season.length)
			refuse(
				empty[0] as string,
				"must not be empty where another of the season's cells is given: first and last month, and turbidity",
			);
		else if (empty.length === season.length && values.season_source !== null)
			refuse("season_source", "must be empty where no season is given");
		return {
			household_id: idOf("household_code"),
			drinking_l_per_person_day: values.drinking_l_per_person_day,
			food_l_per_person_day: values.food_l_per_person_day,
			hygiene_l_per_person_day: values.hygiene_l_per_person_day,
			refill_every_hours: values.refill_every_hours,
			season_from_month: values.season_from_month,
			season_until_month: values.season_until_month,
			season_source: values.season_source,
			season_turbidity: values.season_turbidity,
		};
	},
});
