import type { Band, Protocol } from "../protocol/protocol.js";

// Common practice, no source: what the card says is kept in its own figures, holes and all; `fieldCard` is what ships.

const low: Band = {
	code: "low",
	fromMgPerL: 0,
	belowMgPerL: 1,
	meaning: "tooLow",
	action: {
		code: "dose-again",
		does: "doseAgain",
		text: "Don't drink yet. Add the same dose again, stir, cover, wait 30 minutes and test again.",
	},
	tellSupervisor: false,
	next: { check: "after-wait", afterMinutes: "contact" },
	repeated: {
		time: 2,
		action: {
			code: "other-source",
			does: "otherSource",
			text: "Don't drink this water. Find another source, and tell the supervisor.",
		},
		tellSupervisor: true,
		next: { end: "otherSource" },
	},
};

const fit: Band = {
	code: "fit",
	fromMgPerL: 2,
	upToMgPerL: 4,
	meaning: "fit",
	action: { code: "drink", does: "drink", text: "Fit to drink. Keep it covered." },
	tellSupervisor: false,
	next: { end: "drink" },
};

const high: Omit<Band, "fromMgPerL"> = {
	code: "high",
	meaning: "tooHigh",
	action: {
		code: "pour-and-wait",
		does: "lowerChlorine",
		text: "Don't drink yet. Pour it between two disinfected containers five times, wait two hours and test again.",
	},
	tellSupervisor: false,
	next: { check: "after-wait", afterMinutes: 120 },
};

const dose = { give: { mlPerL: 1.5, nominalStrengthGPerL: 5 }, useWithinHours: null } as const;

const check = { code: "after-wait", title: "After the wait", kind: "afterContact", begins: "afterDose" } as const;

/** The card as volunteers are often taught it. The checker refuses it: two gaps, pouring without end, no limit of turbidity. */
export const fieldCardAsTaught: Protocol = {
	code: "field-card",
	version: 1,
	title: "Field card, common practice",
	source: { kind: "common practice, no source" },
	notes: [
		"The card names no temperature for cold water: under 18 °C is taken, where the published wait grows too.",
		"The card doesn't say how often water is poured and tested again, how long treated water keeps, or which water is too turbid.",
		"1.5 mL for each litre suits bleach of 5 g/L only; measure the strength first. The local health authority's own rules come first.",
	],
	closings: [],
	pretreatment: [
		{ turbidity: "cloudy", code: "cloth-in-layers", text: "Filter cloudy water through clean cloth folded in layers." },
		{ turbidity: "veryTurbid", code: "cloth-in-layers", text: "Filter cloudy water through clean cloth folded in layers." },
	],
	doses: { clear: dose, cloudy: dose, veryTurbid: dose },
	doubling: { belowC: 18, whenNotClear: true },
	contact: { minutes: 30, cold: null, factorAtPH8AndOver: 1 },
	drinkFrom: "fitReading",
	checks: [{ ...check, bands: [low, fit, { ...high, fromMgPerL: 5 }] }],
};

/** The card as it ships: its holes closed on the drinker's side, and each change said. */
export const fieldCard: Protocol = {
	...fieldCardAsTaught,
	closings: [
		'After the wait: readings from 1 to under 2 mg/L had no band (gap 1-2); they now count as "low", the stricter one.',
		'After the wait: readings over 4 and under 5 mg/L had no band (gap 4-5); they now count as "high", the stricter one.',
		`After the wait: "high" could follow on itself without end; from time 3 on it stops: the water isn't drunk, and the supervisor is told.`,
		"Water over 100 NTU was dosed too; it isn't any more until it is settled, filtered or flocculated.",
	],
	doses: { clear: dose, cloudy: dose, veryTurbid: null },
	checks: [
		{
			...check,
			bands: [
				{ ...low, belowMgPerL: 2 },
				fit,
				{
					...high,
					overMgPerL: 4,
					repeated: {
						time: 3,
						action: {
							code: "stop-and-ask",
							does: "otherSource",
							text: "Stop here: don't drink this water. Use water from another source, and ask the supervisor what is wrong with the bleach, the measure or the water.",
						},
						tellSupervisor: true,
						next: { end: "otherSource" },
					},
				},
			],
		},
	],
};
