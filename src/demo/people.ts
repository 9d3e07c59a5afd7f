import type { PersonRow } from "../programme/rows.js";
import { fictionalPhone, inventedPerson, VILLAGES, type VillageCode } from "./invented.js";
import type { Places } from "./places.js";

/** How a volunteer takes what she is asked. */
export interface Habits {
	/** Soon; only after a reminder more often than not; never. */
	readonly answers: "soon" | "late" | "never";
	/** A first text that nobody can read, as often as this, 0 to 1. */
	readonly garbledShare: number;
	/** How she writes a code and a reading. */
	readonly style: "as asked" | "lower case, decimal comma" | "value alone";
	/** False: no message reaches her phone. */
	readonly reachable: boolean;
}

const SOON: Habits = { answers: "soon", garbledShare: 0.03, style: "as asked", reachable: true };

type Working = "Monday to Friday" | "Monday to Saturday" | "Friday off";
const WORKING_DAYS: Readonly<Record<Working, number[]>> = {
	"Monday to Friday": [1, 2, 3, 4, 5],
	"Monday to Saturday": [1, 2, 3, 4, 5, 6],
	"Friday off": [1, 2, 3, 4, 6, 7],
};

type Quiet = readonly [from: string, until: string];
const EARLY: Quiet = ["19:00", "07:00"];
const LATE: Quiet = ["21:00", "06:30"];

// One line a volunteer: first name, language, working days, quiet hours, habits that differ from the usual.
const VOLUNTEERS: readonly (readonly [string, string, Working, Quiet, Partial<Habits>])[] = [
	["Asha", "sw", "Monday to Saturday", EARLY, {}],
	["Baraka", "sw", "Monday to Friday", LATE, { style: "lower case, decimal comma" }],
	["Chantal", "fr", "Monday to Saturday", EARLY, { style: "lower case, decimal comma" }],
	["Daudi", "en", "Monday to Saturday", LATE, { answers: "late" }],
	["Esther", "en", "Monday to Saturday", EARLY, {}],
	["Furaha", "sw", "Monday to Friday", EARLY, { garbledShare: 0.6 }],
	["Grace", "en", "Monday to Saturday", LATE, { style: "value alone" }],
	["Hamisi", "sw", "Friday off", EARLY, {}],
	["Imani", "sw", "Monday to Saturday", EARLY, { answers: "never" }],
	["Joseph", "en", "Monday to Friday", LATE, {}],
	["Khadija", "sw", "Friday off", EARLY, { answers: "late", style: "lower case, decimal comma" }],
	["Lucien", "fr", "Monday to Saturday", LATE, { reachable: false }],
	["Mariam", "sw", "Friday off", EARLY, { style: "value alone" }],
	["Neema", "sw", "Monday to Saturday", EARLY, {}],
];

// Who looks after which villages.
const SUPERVISORS: readonly (readonly [string, string, readonly VillageCode[]])[] = [
	["Odette", "fr", ["FIG", "RED"]],
	["Peter", "en", ["LON", "HER"]],
];

export interface People {
	readonly healthOffice: PersonRow;
	readonly supervisors: readonly PersonRow[];
	readonly volunteers: readonly PersonRow[];
	/** By the volunteer's id. */
	readonly habits: Readonly<Record<string, Habits>>;
}

/** @returns one person at the health office, 2 supervisors under her and 14 volunteers under them, with phone numbers kept for fiction */
export function peopleOf(places: Places, newId: () => string): People {
	let phones = 100;
	const person = (role: PersonRow["role"], code: string, firstName: string, language: string, areaId: string): PersonRow => ({
		id: newId(),
		code,
		role,
		name: inventedPerson(firstName),
		phoneE164: fictionalPhone(phones++),
		email: null,
		language,
		areaId,
		supervisorId: null,
		workingDays: WORKING_DAYS["Monday to Friday"],
		quietFrom: EARLY[0],
		quietUntil: EARLY[1],
		channels: [],
		active: true,
		optedOutAtMs: null,
		consentedAtMs: null,
		erasedAtMs: null,
	});
	const healthOffice = person("health office", "H1", "Rehema", "en", places.district.id);
	const supervisors = SUPERVISORS.map(([firstName, language], i) => ({
		...person("supervisor", `S${i + 1}`, firstName, language, places.district.id),
		supervisorId: healthOffice.id,
	}));
	const homes = VILLAGES.flatMap(({ code, volunteers }) => Array.from({ length: volunteers }, () => code));
	const habits: Record<string, Habits> = {};
	const volunteers = VOLUNTEERS.map(([firstName, language, working, quiet, own], i) => {
		const village = homes[i] as VillageCode;
		const supervisor = supervisors[SUPERVISORS.findIndex(([, , villages]) => villages.includes(village))] as PersonRow;
		const areaId = places.villages.get(village)?.id as string;
		const volunteer: PersonRow = {
			...person("volunteer", `V${String(i + 1).padStart(2, "0")}`, firstName, language, areaId),
			supervisorId: supervisor.id,
			workingDays: WORKING_DAYS[working],
			quietFrom: quiet[0],
			quietUntil: quiet[1],
		};
		habits[volunteer.id] = { ...SOON, ...own };
		return volunteer;
	});
	return { healthOffice, supervisors, volunteers, habits };
}
