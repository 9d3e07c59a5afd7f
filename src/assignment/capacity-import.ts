import { type Column, numberColumn, orMissing, referenceColumn, wholeColumn } from "../programme/import/column.js";
import type { Writing } from "../programme/import/importer.js";
import { importKind } from "../programme/import/kind.js";
import { wallTimeColumn } from "../programme/import/people.js";
import type { Reference } from "../programme/import/references.js";
import type { Ids } from "../time/ids.js";
import { type Capacity, statedCapacities, writeCapacity } from "./capacities.js";

const toVolunteer: Reference = {
	noun: "volunteer",
	table: "person",
	select: "SELECT x.code, x.id FROM (SELECT code, id FROM person WHERE role = 'volunteer') x",
};

/** What a volunteer may say that she can take on; an interface can use them for the same fields. */
export const capacityColumns = {
	latitude_deg: numberColumn({ from: -90, to: 90, unit: "degrees, north positive" }),
	longitude_deg: numberColumn({ from: -180, to: 180, unit: "degrees, east positive" }),
	most_households: wholeColumn({ from: 0, to: 10_000, unit: "households" }),
	most_litres_per_day: numberColumn({ from: 0, to: 1_000_000, unit: "litres of treated water a day" }),
	most_hours_per_week: numberColumn({ from: 0, to: 168, unit: "hours a week" }),
	works_from: wallTimeColumn,
	works_until: wallTimeColumn,
} as const satisfies Record<string, Column>;

type Name = keyof typeof capacityColumns;

/** Cells that say something only together. */
const PAIRS: readonly (readonly [Name, Name])[] = [
	["latitude_deg", "longitude_deg"],
	["works_from", "works_until"],
];

/** What volunteers can take on, where their rounds begin and when they work. An empty cell: nothing said; a missing column: as it is. */
export const capacityImport = importKind({
	name: "capacities",
	noun: "volunteer's capacity",
	table: "volunteer_capacity",
	columns: {
		/** Of a volunteer who is there already. */
		code: referenceColumn(toVolunteer),
		latitude_deg: orMissing(capacityColumns.latitude_deg),
		longitude_deg: orMissing(capacityColumns.longitude_deg),
		most_households: orMissing(capacityColumns.most_households),
		most_litres_per_day: orMissing(capacityColumns.most_litres_per_day),
		most_hours_per_week: orMissing(capacityColumns.most_hours_per_week),
		works_from: orMissing(capacityColumns.works_from),
		works_until: orMissing(capacityColumns.works_until),
	},
	fieldsOf(values, { refuse }) {
		for (const [one, other] of PAIRS) {
			if ((values[one] === undefined) !== (values[other] === undefined))
				refuse(
					values[one] === undefined ? other : one,
					`must stand in the file together with the column ${values[one] === undefined ? one : other}`,
				);
		}
		const { latitude_deg, longitude_deg, works_from, works_until } = values;
		if (latitude_deg !== undefined && longitude_deg !== undefined && (latitude_deg === null) !== (longitude_deg === null))
			refuse(
				latitude_deg === null ? "latitude_deg" : "longitude_deg",
				"must not be empty where the other coordinate is given; both or neither",
			);
		if (works_from && works_until && works_from >= works_until)
			refuse("works_until", `must be later than works_from, which is ${works_from}`);
		return {
			latitudeDeg: latitude_deg,
			longitudeDeg: longitude_deg,
			mostHouseholds: values.most_households,
			mostLitresPerDay: values.most_litres_per_day,
			mostHoursPerWeek: values.most_hours_per_week,
			worksFrom: works_from,
			worksUntil: works_until,
		};
	},
});

/** Writes what a list says of volunteers, as saying it of each by hand does; whom no row names is as she was. */
export function capacitiesFromList(ids: Ids): Writing {
	return async (tx, chunks, { actor, nowMs }) => {
		const tally = { added: 0, changed: 0, unchanged: 0 };
		for await (const rows of chunks) {
			const stored = await statedCapacities(
				tx,
				rows.map(({ code }) => code),
			);
			for (const { code, fields } of rows) {
				const before = stored.get(code);
				if (!before) continue;
				const said = Object.entries(fields).filter(([, value]) => value !== undefined);
				const wanted: Capacity = { ...before.capacity, ...Object.fromEntries(said) };
				const names = Object.keys(wanted) as (keyof Capacity)[];
				if (names.every((name) => wanted[name] === before.capacity[name])) tally.unchanged++;
				else {
					await writeCapacity(tx, ids, before.id, wanted, { actor, nowMs });
					if (before.isStated) tally.changed++;
					else tally.added++;
				}
			}
		}
		return tally;
	};
}
