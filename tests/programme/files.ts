import { importKinds } from "../../src/imports.js";
import { Importer, type ImporterOptions } from "../../src/programme/import/importer.js";
import { type ImportReport, problemText } from "../../src/programme/import/report.js";
import type { Store } from "../../src/store/store.js";
import { VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";

// Every name, code and number here is invented; the phone numbers are of the ranges that Ofcom keeps for drama (+44 7700 900xxx).

/** 2025-06-15T12:00Z, 18:00 in Dhaka (UTC+6 all year). */
export const NOW_MS = 1_749_988_800_000;

let importers = 0;

/** An importer of its own, with chance that no other one has: ids are never made twice. */
export function importerFor(store: Store, options: Partial<ImporterOptions> = {}): Importer {
	const clock = new VirtualClock(NOW_MS);
	return new Importer(store, clock, new Ids(clock, new SeededRandomness(++importers)), { kinds: importKinds, ...options });
}

/** A file's bytes in chunks of so many bytes. */
export async function* bytesOf(content: string | Uint8Array, chunkBytes = 65_536): AsyncGenerator<Uint8Array> {
	const bytes = Buffer.from(content as string);
	for (let from = 0; from < bytes.length; from += chunkBytes) yield bytes.subarray(from, from + chunkBytes);
}

export const problemsIn = (report: ImportReport): string[] => report.problems.map(problemText);

const months = Array.from({ length: 12 }, (_, i) => String(i + 1).padStart(2, "0"));
const climateHeader = ["day_mean_c", "night_mean_c", "cloud_fraction"].flatMap((name) =>
	months.map((month) => `${name}_${month}`),
);
/** Climate cells for an area whose months are all alike. */
export const climateCells = (day: string, night: string, cloud: string): string =>
	[day, night, cloud].flatMap((cell) => months.map(() => cell)).join(",");

export const HEADERS = {
	areas: `code,name,parent_code,time_zone,latitude_deg,longitude_deg,altitude_m,${climateHeader.join(",")}`,
	holidays: "code,area_code,on_date,name",
	people: "code,role,name,phone,language,area_code,supervisor_code,working_days,quiet_from,quiet_until,channels",
	households: "code,area_code,volunteer_code,persons,water_source,turbidity,latitude_deg,longitude_deg",
	containers: "code,household_code,volume_l,kind,last_cleaned_on",
	habits:
		"household_code,drinking_l_per_person_day,food_l_per_person_day,hygiene_l_per_person_day,refill_every_hours,season_from_month,season_until_month,season_source,season_turbidity",
	generators: "code,name,area_code,rated_current_a,cells_in_series,current_efficiency,batch_volume_l,salt_g_per_l,in_service",
	capacities: "code,latitude_deg,longitude_deg,most_households,most_litres_per_day,most_hours_per_week,works_from,works_until",
	assignments: "code,volunteer_code,stays,language",
	batches:
		"code,generator_code,area_code,keeper_code,made_at,volume_l,strength_g_per_l,ph,ph_knowledge,wall,exposure,salt_g_per_l,lit_area_m2",
	batteries: "code,area_code,generator_code,rated_ah,rated_hours,peukert_exponent,since",
	runs: "code,generator_code,operator_code,started_at,ended_at,salt_g,water_l,power_source,battery_code,current_a,rest_voltage_v,gas_seen,batch_code",
	"kit-lots": "code,kit,lot,area_code,holder_code,received_on,expires_on,opened_on",
} as const;

/** A file of a kind from its rows. */
export const fileOf = (kind: keyof typeof HEADERS, ...rows: string[]): string => [HEADERS[kind], ...rows, ""].join("\n");

const warm = climateCells("31.5", "24", "0.4");

/** One small programme: two areas, three people, two households with three containers, a generator and two batches. */
export const FILES = {
	areas: fileOf(
		"areas",
		// The child stands before its parent: files come in any order.
		`LAKE-1,Lake One,LAKE,Asia/Dhaka,23.8,90.4,8,${warm}`,
		`LAKE,Lake District,,Asia/Dhaka,23.7,90.3,8,${warm}`,
	),
	people: fileOf(
		"people",
		"V1,volunteer,Invented Volunteer,+44 7700 900123,bn-bd,LAKE-1,S1,7-4,20:00,7:30,sms email",
		"S1,supervisor,Invented Supervisor,+44 7700 900124,en,LAKE,,1 2 3 4 5,21:00,07:00,",
		'H1,health office,"Office, Invented",,en,LAKE,,1-5,18:00,08:00,email',
	),
	households: fileOf("households", "H-1,LAKE-1,V1,5,tube well,clear,23.81,90.41", "H-2,LAKE-1,,3,pond,very turbid,,"),
	containers: fileOf(
		"containers",
		"C-1,H-1,20,narrow mouth,2025-06-01",
		"C-2,H-1,12.5,bucket with cover,",
		"C-3,H-2,20,tap,2025-06-15",
	),
	habits: fileOf("habits", "H-1,2,2.5,,24,6,9,pond,cloudy", "H-2,,,,12,,,,"),
	generators: fileOf("generators", "G1,Invented Cell,LAKE-1,6.5,2,0.65,20,30,yes"),
	batches: fileOf(
		"batches",
		"B-1,G1,LAKE-1,V1,2025-06-01T07:30+06:00,20,5,9.5,meter,opaqueWhite,indoors,30,0.05",
		"B-2,,LAKE-1,,2025-06-10 07:30,10,4.5,,not measured,clearPlastic,shade,25,0.03",
	),
} as const;

/** Imports the small programme as far as a kind, that one left out. */
export async function programmeBefore(importer: Importer, kind: keyof typeof FILES | "end"): Promise<void> {
	for (const [name, file] of Object.entries(FILES)) {
		if (name === kind) return;
		const report = await importer.importFile(name, bytesOf(file));
		if (report.state !== "imported") throw new Error(problemsIn(report).join("\n"));
	}
}
