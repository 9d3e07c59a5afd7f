import type { Store } from "../../store/store.js";
import type { Visit } from "../page.js";
import { inPartOf } from "../part.js";

/** A household, and who looks after it. */
export interface Home {
	readonly id: string;
	readonly code: string;
	readonly areaCode: string;
	readonly persons: number;
	readonly volunteerCode: string | null;
	readonly volunteerName: string | null;
	/** Its own place; none: not known. */
	readonly latitudeDeg: number | null;
	readonly longitudeDeg: number | null;
}

/** Which households are shown; an area with all below it. */
export interface Shown {
	readonly areaId?: string | undefined;
	/** Code of a volunteer. */
	readonly of?: string | undefined;
	readonly ofNobody: boolean;
	/** The code after which a page begins. */
	readonly after?: string | undefined;
}

/** @returns households of the part of whoever asks, by code, and how many there are beyond them */
export async function homesOf(store: Store, visit: Visit, shown: Shown, most: number): Promise<{ homes: Home[]; more: boolean }> {
	const conditions = inPartOf(visit, "household", "h");
	const { areaId, of, ofNobody, after } = shown;
	conditions.addIf(
		areaId,
		(place, id) =>
			`h.area_id IN (WITH RECURSIVE below(id) AS (SELECT id FROM area WHERE id = ${place(id)} UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id) SELECT id FROM below)`,
	);
	conditions.addIf(of, (place, code) => `v.code = ${place(code)}`);
	conditions.addIf(after, (place, code) => `h.code > ${place(code)}`);
	if (ofNobody) conditions.add(() => "h.volunteer_id IS NULL");
	const homes = await store.query<Home>(
		`SELECT h.id, h.code, a.code AS area_code, h.persons, v.code AS volunteer_code, v.name AS volunteer_name, h.latitude_deg, h.longitude_deg
		 FROM household h JOIN area a ON a.id = h.area_id LEFT JOIN person v ON v.id = h.volunteer_id
		 WHERE ${conditions.texts.join(" AND ")} ORDER BY h.code LIMIT ${most + 1}`,
		conditions.parameters,
	);
	return { homes: homes.slice(0, most), more: homes.length > most };
}
