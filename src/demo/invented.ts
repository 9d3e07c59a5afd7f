/** Every name, number and figure of the demo is invented; this word stands in each name that could be taken for a real one. */
export const INVENTED = "Invented";

export const DISTRICT_NAME = "Two Springs";

/** @returns the programme's name; the start number is in it, so that two demos can be told apart */
export function programmeName(start: number): string {
	return `${INVENTED} district of ${DISTRICT_NAME}, demo ${start}`;
}

/** @returns the name of a place or a thing, marked */
export function inventedName(name: string): string {
	return `${INVENTED}: ${name}`;
}

/** @returns the name of a person, marked; there are no family names, so that nobody real is meant */
export function inventedPerson(firstName: string): string {
	return `${firstName} (${INVENTED.toLowerCase()})`;
}

/**
 * A number that rings nowhere.
 * @param index 0 to 999
 * @returns E.164, from +447700900000 on
 * Source: Ofcom, "Telephone numbers for use in TV and radio drama programmes": mobile numbers 07700 900000 to 900999 aren't
 * given to anybody. [S]
 */
export function fictionalPhone(index: number): string {
	return `+447700900${String(index).padStart(3, "0")}`;
}

export const VILLAGES = [
	{ code: "FIG", name: "Fig Tree", altitudeM: 900, eastKm: 0, northKm: 0, volunteers: 4, households: 92 },
	{ code: "RED", name: "Red Bank", altitudeM: 820, eastKm: 6.5, northKm: -2, volunteers: 4, households: 88 },
	{ code: "LON", name: "Long Ridge", altitudeM: 1040, eastKm: -4, northKm: 7, volunteers: 3, households: 76 },
	{ code: "HER", name: "Heron Ford", altitudeM: 760, eastKm: 9, northKm: -9.5, volunteers: 3, households: 64 },
] as const;

export type VillageCode = (typeof VILLAGES)[number]["code"];

/** @returns the name without its mark, for a page that says once and plainly that everything on it is invented */
export function unmarked(name: string): string {
	return name.replace(` (${INVENTED.toLowerCase()})`, "").replace(`${INVENTED}: `, "");
}
