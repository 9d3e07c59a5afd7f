import { z } from "zod";
import { equivalentDaysPerDay, type MonthlyClimate } from "../../science/climate.js";
import { defaultConstants } from "../../science/constants.js";
import { isTimeZone } from "../../time/local.js";
import { type Column, codeColumn, numberColumn, orEmpty, textColumn } from "./column.js";
import { importKind, type RowSetting } from "./kind.js";

const ZONE = "must be a time zone by its IANA name, such as Asia/Dhaka";
const timeZoneColumn: Column<string> = {
	schema: z.string(ZONE).refine(isTimeZone, ZONE).meta({ description: ZONE }),
	right: ZONE,
	read: (cell) => cell,
	known: [...Intl.supportedValuesOf("timeZone"), "UTC"],
};

const MONTHS = ["01", "02", "03", "04", "05", "06", "07", "08", "09", "10", "11", "12"] as const;
type Month = (typeof MONTHS)[number];
type MonthColumn = `day_mean_c_${Month}` | `night_mean_c_${Month}` | `cloud_fraction_${Month}`;

const temperatureColumn = numberColumn({ from: -20, to: 45, unit: "°C" });
const cloudColumn = numberColumn({ from: 0, to: 1, unit: "share of the sky" });

function monthly<N extends string>(name: N, column: Column<number>): Record<`${N}_${Month}`, Column<number>> {
	return Object.fromEntries(MONTHS.map((month) => [`${name}_${month}`, column])) as Record<`${N}_${Month}`, Column<number>>;
}

/** Places, with the climate by which everything that is stored in them is forecast. */
export const areaImport = importKind({
	name: "areas",
	noun: "area",
	table: "area",
	columns: {
		code: codeColumn(),
		name: textColumn(200),
		parent_code: orEmpty(codeColumn()),
		time_zone: timeZoneColumn,
		latitude_deg: numberColumn({ from: -90, to: 90, unit: "degrees, north positive" }),
		longitude_deg: numberColumn({ from: -180, to: 180, unit: "degrees, east positive" }),
		altitude_m: numberColumn({ from: -430, to: 6000, unit: "metres above the sea" }),
		...monthly("day_mean_c", temperatureColumn),
		...monthly("night_mean_c", temperatureColumn),
		...monthly("cloud_fraction", cloudColumn),
	},
	tree: { column: "parent_code", field: "parent_id" },
	fieldsOf: (values, setting) => ({
		name: values.name,
		time_zone: values.time_zone,
		latitude_deg: values.latitude_deg,
		longitude_deg: values.longitude_deg,
		altitude_m: values.altitude_m,
		climate: MONTHS.map((month) => monthOf(values, month, setting)),
	}),
});

function monthOf(values: Readonly<Record<MonthColumn, number>>, month: Month, { refuse }: RowSetting): MonthlyClimate {
	const dayMeanC = values[`day_mean_c_${month}`];
	const nightMeanC = values[`night_mean_c_${month}`];
	if (nightMeanC > dayMeanC) {
		refuse(`night_mean_c_${month}`, `must not be above day_mean_c_${month}, which is ${dayMeanC} (°C); are the two exchanged?`);
	} else if (!canBeForecast(dayMeanC + defaultConstants.sunWarmingC, nightMeanC)) {
		refuse(
			`day_mean_c_${month}`,
			"is too far above the night: with the sun on it a jar would pass 60 °C, beyond which nothing is forecast",
		);
	}
	return { dayMeanC, nightMeanC, cloudFraction: values[`cloud_fraction_${month}`] };
}

function canBeForecast(dayMeanC: number, nightMeanC: number): boolean {
	try {
		equivalentDaysPerDay(dayMeanC, nightMeanC);
		return true;
	} catch (error) {
		if (error instanceof RangeError) return false;
		throw error;
	}
}
