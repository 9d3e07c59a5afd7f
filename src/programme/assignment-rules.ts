import { z } from "zod";

const wallTime = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of day, 00:00 to 23:59");

/** What a programme has chosen for who looks after whom, and for the rounds that they walk. */
export const assignmentRules = z.strictObject({
	/** On a level footpath; 3 km/h off the path. Source: Tobler (1993), NCGIA Technical Report 93-1: 5.04 km/h and three fifths of it, from memory. */
	walkingKmPerH: z.number().min(1).max(60).default(5),
	/** The way is so many times the straight line. Common practice, no source. */
	detour: z.number().min(1).max(3).default(1.3),
	/** At the household. Common practice, no source. */
	visitMinutes: z.number().min(1).max(240).default(15),
	/** Visits that a household is reckoned to need. Common practice, no source: weekly in an outbreak, monthly otherwise. */
	visitsPerWeek: z.number().positive().max(14).default(1),
	/** What a volunteer who hasn't said otherwise can visit on each of her working days. Own choice. */
	householdsPerWorkingDay: z.number().positive().max(100).default(10),
	/** What another volunteer than today's is held to be worth, in km of way to a household: people keep whom they know. Own choice. */
	changeKm: z.number().min(0).max(1000).default(1),
	/** What a volunteer is held to be worth who doesn't speak the household's language, in km. Own choice. */
	languageKm: z.number().min(0).max(1000).default(3),
	/** What each household above the even share is held to be worth, in km; twice, three times ... the more there are above it. Own choice. */
	unevenKm: z.number().min(0).max(1000).default(0.5),
	/** So many times the mean load, as a share of what each can take on, still counts as even. Own choice. */
	evenWithin: z.number().min(1).max(10).default(1.25),
	/** The optimiser may take so long. */
	solveSeconds: z.number().min(1).max(300).default(20),
	/** Working hours where a volunteer hasn't said otherwise, local wall time. Common practice, no source. */
	worksFrom: wallTime.default("08:00"),
	worksUntil: wallTime.default("17:00"),
});
