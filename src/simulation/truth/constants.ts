/**
 * The constants of the simulated world. They were fixed before any rule of the program was tuned on it, and stay as they are: where the
 * program does badly in this world, the program is to be improved. Tests hold them against the observations that they were fitted to
 * (tests/published/storage.json).
 */

/**
 * Loss in storage: first order, S = S0·e^(-k·t), with one rate a filling. The program's own forecast is another model: two chemical
 * paths, the faster of the second order in hypochlorous acid, and sunlight of the zeroth order.
 */
export const STORAGE = {
	/**
	 * 90 % are left after 6 days at 30 °C: ln(1/0.9)/6.
	 * Source: Iqbal et al. 2016, PLoS ONE 11:e0156136, abstract: generated, 0.5 %, pH 9, 25-35 °C, at most 6 days.
	 */
	lossPerDayAt30C: 0.01756,
	/**
	 * Times this for each 10 °C. The storage study alone asks for 1.1 (6 days at 25-35 °C, 5.4 at 40 °C), a maker's page for 3.5; this stays
	 * within a factor of 1.4 of each of the observed times.
	 */
	rateRatioPer10C: 1.5,
	/**
	 * Ln-sd of the rate between places that make it (water, salt, pH), between makings of one place, and between jars of one making.
	 * Source: the observations at 0.5 % lie between 4 and 6 days, and 6-7 % lost in 5-6 weeks (Gavelli et al. 2020; Gow et al. 2022): a
	 * factor of about 10 from the fastest to the slowest, taken as four standard deviations of 0.6.
	 */
	rateLnSd: { place: 0.45, making: 0.38, jar: 0.15 },
	/**
	 * What daylight adds to the rate, 1/day, by wall, in a lit room or open shade.
	 * Source: Rutala et al. 1998, abstract: about 1 % at 20 °C for 30 days: closed brown 97-100 % left, closed translucent 83-85 %. The others
	 * by the order of Nicoletti & Magalhães 1996, abstract; their figures are our own choice.
	 */
	lightPerDay: { opaque: 0, opaqueWhite: 0.001, translucent: 0.0053, clearPlastic: 0.012 },
	/** In direct sun, as many times that. Own choice; no source that could be read. */
	sunTimes: 6,
	/** In direct sun the jar is so much warmer than the air, °C. From memory: 5 to 10. */
	sunWarmingC: 7,
} as const;

/** Making. */
export const MAKING = {
	/** Ln-sd of a generator's own bias against its rating, and of each making (water, minutes, current). Source: current efficiency 60-75 % in undivided cells (White's handbook, from memory). */
	strengthLnSd: { generator: 0.07, making: 0.1 },
	/** Days of work in which an electrode loses a tenth of its output to scale. Source: makers' pages, 10 to 50 and more by hardness. */
	tenthLostDays: { hard: 10, soft: 50 },
	/** Share of generators with hard water. Own choice. */
	hardShare: 0.25,
	/** Scale is seen at an inspection once so much of the output is gone. Common practice, no source: descaled at -10 %. */
	scaleSeenAtLoss: 0.1,
	/** Market weeks in which no salt is to be had, and the strength that is made with what is left of the old. Own choice. */
	saltless: { shareOfWeeks: 0.05, strengthShare: 0.68 },
} as const;

/** Where jars stand. Own choice throughout; by record a jar stands where its keeper usually has it. */
export const KEEPING = {
	/** Share of volunteers by the wall of their jars. */
	walls: [
		["opaque", 0.6],
		["opaqueWhite", 0.2],
		["translucent", 0.2],
	],
	/** Share of jars that are left in the sun though the record says indoors. */
	leftInSunShare: 0.08,
} as const;

/** Weather of the year. The program knows the climate, not the year. */
export const WEATHER = {
	/** The year's hot season is so much hotter than its climate, °C. */
	hotSeasonC: 2.5,
	/** Months of the hot season, January is 0. Invented, as the climate is. */
	hotMonths: [2, 3, 4],
	/** Standard deviation of a day's mean around that, °C. Common practice, no source. */
	daySdC: 1.3,
} as const;

/** What household water does to chlorine: demand within half an hour, then first order. */
export const WATER = {
	/**
	 * Medians and ln-sd, in all; the share of the variance that lasts in a household is `lasting`, the rest changes daily.
	 * Source: fitted to Wilhelm et al. 2018, J Water Health 16:112, abstract: 1.88 mg/L leaves 0.2 mg/L at 8 h in 91-94 % and at 24 h in
	 * 82-87 %; 3.75 mg/L in unimproved water in 83 % and 65 %.
	 */
	clear: { demandMgPerL: 0.6, demandLnSd: 0.7, decayPerHour: 0.035, decayLnSd: 0.4 },
	cloudy: { demandMgPerL: 2.0, demandLnSd: 0.55, decayPerHour: 0.06, decayLnSd: 0.5 },
	lastingShareOfVariance: 0.6,
	cloudyShare: 0.25,
	/** Ln-sd of what a household measures against what it was told. Own choice: a syringe that is read in a hurry. */
	measuringLnSd: 0.12,
} as const;

/** Testing with a comparator. */
export const READING = {
	/** Ln-sd of the colour against the truth, dilution included. Source: Wells et al. 2016, PLoS ONE 11:e0152442, abstract: 2.4-19 % after dilution. */
	strengthLnSd: 0.15,
	/** Another colour than the nearest. Source: Patnaik et al. 2009: 4.8 % of data sent by SMS were wrong. */
	misreadShare: 0.048,
	/** Any colour at all: the wrong jar, the wrong syringe. Own choice. */
	slipShare: 0.01,
	/** Ln-sd of a residual reading. Source: Murray & Lantagne 2015, abstract: kits 5.1-40.5 %. */
	residualLnSd: 0.15,
} as const;

/** People. */
export const PEOPLE = {
	/** Share of volunteers who answer late. With reminders and a supervisor the mean delay stays near that of DeRenzi 2012, ICTD: 1.4 days. */
	lateShare: 0.3,
	/** Median hours until an answer, and its ln-sd. */
	delayHours: { soon: 5, late: 30 },
	delayLnSd: 0.7,
	/** Weeks in which a volunteer falls ill, and the days it takes. Own choice: about two illnesses a year. */
	illShareOfWeeks: 0.04,
	illDays: { from: 3, below: 11 },
	/** Careless volunteers, and how often one of them sends last time's colour without testing. Own choice. */
	carelessShare: 0.15,
	madeUpShare: 0.25,
	/** A supervisor who is told of late work goes there herself so often, within so many hours. Own choice. */
	supervisorGoesShare: 0.85,
	supervisorHours: { from: 3, below: 26 },
	/** Days on which a phone is off. Own choice. */
	phoneOffShareOfDays: 0.04,
} as const;
