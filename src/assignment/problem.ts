/** A volunteer who may be given households, with what she can take on. */
export interface Candidate {
	readonly id: string;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
	/** BCP 47. */
	readonly language: string;
	readonly mostHouseholds: number;
	/** None: not limited. */
	readonly mostLitresPerDay: number | null;
	readonly mostHoursPerWeek: number | null;
}

/** A household that is to be looked after. */
export interface PlacedHousehold {
	readonly id: string;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
	/** BCP 47; none: not known, any volunteer will do. */
	readonly language: string | null;
	readonly litresPerDay: number;
	readonly todayId: string | null;
	/** The only volunteer who may have it. */
	readonly staysWithId: string | null;
}

/** What the programme holds a change, a foreign language and an uneven load to be worth, all in km of walking. */
export interface AssignmentTerms {
	readonly changeKm: number;
	readonly languageKm: number;
	/** Of each household above a volunteer's even share, for the first quarter of it; further ones cost more. */
	readonly unevenKm: number;
	/** So many times the mean load, as a share of what each can take on, is still even. */
	readonly evenWithin: number;
	readonly visitsPerWeek: number;
	readonly visitMinutes: number;
	readonly walkingKmPerH: number;
}

/** Plain values, so that it can be handed to a thread. */
export interface AssignmentProblem {
	readonly candidates: readonly Candidate[];
	readonly households: readonly PlacedHousehold[];
	readonly terms: AssignmentTerms;
}

/** Who gets which household, and how good that is. */
export interface AssignmentSolution {
	/** By the order of the households: the index of the candidate; -1 where none can take it. */
	readonly chosen: readonly number[];
	/** In km: distances one way, changes, languages and uneven loads together. */
	readonly costKm: number;
	/** No assignment whatever costs less than this. */
	readonly boundKm: number;
	/** What each household that is left over counts for in both. */
	readonly leftOverKm: number;
	/** `nearest first`: the optimiser had no time or failed, and each household in turn got the best volunteer who had room. */
	readonly by: "optimiser" | "nearest first";
	/** Why it isn't the optimiser's, or not proven best; none where it is. */
	readonly remark: string | null;
	/** By households weighed alike: what one household more that a volunteer could take on would save, km. */
	readonly savedByRoomKm: readonly number[];
}

/** Largest problem that is taken, households times volunteers: beyond it, areas are proposed for one by one. */
export const MOST_PAIRS = 4_000_000;
