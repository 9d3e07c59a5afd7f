import { z } from "zod";
import { localDateOf } from "../../time/local.js";
import { mostContainerL, tooLarge } from "../container-size.js";
import { type Column, choiceColumn, codeColumn, orEmpty, positiveColumn, referenceColumn } from "./column.js";
import { importKind } from "./kind.js";
import { toHousehold } from "./references.js";

const DATE = "must be a date as year-month-day, such as 2025-03-09";
export const dateColumn: Column<string> = {
	schema: z.iso.date(DATE).meta({ description: DATE }),
	right: DATE,
	read: (cell) => cell,
};

/** The vessels in which households store water. */
export const containerImport = importKind({
	name: "containers",
	noun: "container",
	table: "container",
	columns: {
		code: codeColumn(),
		household_code: referenceColumn(toHousehold),
		volume_l: positiveColumn({ to: 1000, unit: "litres" }),
		kind: choiceColumn("narrow mouth", "wide mouth", "tap", "bucket with cover"),
		last_cleaned_on: orEmpty(dateColumn),
	},
	fieldsOf(values, { nowMs, policy, found, idOf, refuse }) {
		const today = localDateOf(nowMs, found("household_code")?.timeZone ?? "UTC");
		if (values.last_cleaned_on !== null && values.last_cleaned_on > today)
			refuse("last_cleaned_on", `must not be in the future; today is ${today} there`);
		const persons = found("household_code")?.persons ?? 1;
		const mostL = mostContainerL(persons, policy.water.largestContainerLPerPerson);
		if (values.volume_l > mostL) refuse("volume_l", tooLarge(persons, mostL));
		return {
			household_id: idOf("household_code"),
			volume_l: values.volume_l,
			kind: values.kind,
			last_cleaned_on: values.last_cleaned_on,
		};
	},
});
