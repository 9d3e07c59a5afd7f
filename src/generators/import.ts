import {
	codeColumn,
	flagColumn,
	numberColumn,
	orMissing,
	referenceColumn,
	textColumn,
	wholeColumn,
} from "../programme/import/column.js";
import { importKind } from "../programme/import/kind.js";
import { type Reference, toArea, toPerson } from "../programme/import/references.js";

export const toGenerator: Reference = { noun: "generator", table: "generator", select: "SELECT x.code, x.id FROM generator x" };

/** Cells that make bleach from brine, as their plate and their keeper tell of them. */
export const generatorImport = importKind({
	name: "generators",
	noun: "generator",
	table: "generator",
	columns: {
		code: codeColumn(),
		name: textColumn(200),
		area_code: referenceColumn(toArea),
		rated_current_a: numberColumn({ from: 0.05, to: 500, unit: "amperes" }),
		cells_in_series: wholeColumn({ from: 1, to: 24, unit: "cells" }),
		current_efficiency: numberColumn({ from: 0.01, to: 1, unit: "share of the current that makes chlorine" }),
		batch_volume_l: numberColumn({ from: 0.1, to: 1000, unit: "litres" }),
		salt_g_per_l: numberColumn({ from: 1, to: 350, unit: "grams of salt a litre" }),
		in_service: flagColumn(),
		operator_code: orMissing(referenceColumn(toPerson)),
		latitude_deg: orMissing(numberColumn({ from: -90, to: 90, unit: "degrees" })),
		longitude_deg: orMissing(numberColumn({ from: -180, to: 180, unit: "degrees" })),
	},
	fieldsOf: (values, { idOf }) => ({
		// A file that doesn't name these columns leaves them as they are.
		...(values.operator_code === undefined ? {} : { operator_id: idOf("operator_code") }),
		...(values.latitude_deg === undefined ? {} : { latitude_deg: values.latitude_deg }),
		...(values.longitude_deg === undefined ? {} : { longitude_deg: values.longitude_deg }),
		name: values.name,
		area_id: idOf("area_code"),
		rated_current_a: values.rated_current_a,
		cells_in_series: values.cells_in_series,
		current_efficiency: values.current_efficiency,
		batch_volume_l: values.batch_volume_l,
		salt_g_per_l: values.salt_g_per_l,
		in_service: values.in_service,
	}),
});
