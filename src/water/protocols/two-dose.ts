import type { Band, Protocol } from "../protocol/protocol.js";

// The default protocol. Figures are the published ones; what follows from a reading that isn't fit is this project's choice, on the
// drinker's side: one corrected dose, never a third one blindly.

const fitFrom = (fromMgPerL: number): Band => ({
	code: "fit",
	fromMgPerL,
	upToMgPerL: 2,
	meaning: "fit",
	action: {
		code: "drink",
		does: "drink",
		text: "Fit to drink. Keep it covered, and use it within 24 hours, or within 8 hours if it was cloudy when dosed.",
	},
	tellSupervisor: false,
	next: { end: "drink" },
});

const strong: Band = {
	code: "strong-taste",
	overMgPerL: 2,
	upToMgPerL: 5,
	meaning: "fit",
	action: {
		code: "drink-strong-taste",
		does: "drink",
		text: "Fit to drink, but it may taste of chlorine. Let it stand covered in the shade, or mix it with treated water that reads less.",
	},
	tellSupervisor: false,
	next: { end: "drink" },
};

/** Over the guideline value bleach or measure may be wrong in other homes too: the supervisor is told at once. */
const tooHigh = (check: string): Band => ({
	code: "too-high",
	overMgPerL: 5,
	meaning: "tooHigh",
	action: {
		code: "dilute",
		does: "lowerChlorine",
		text: "Don't drink. Mix it with treated water that reads less, cover and wait, then test again. Check the measure and the strength of the bleach.",
	},
	tellSupervisor: true,
	next: { check, afterMinutes: "contact" },
	repeated: {
		time: 2,
		action: {
			code: "discard",
			does: "discard",
			text: "Don't drink. Use this water for cleaning or pour it away, and test the bleach before the next dose.",
		},
		tellSupervisor: true,
		next: { end: "discard" },
	},
});

const doseOnceMore = (belowMgPerL: number): Band => ({
	code: "too-low",
	fromMgPerL: 0,
	belowMgPerL,
	meaning: "tooLow",
	action: {
		code: "dose-once-more",
		does: "doseAgain",
		text: "Don't drink yet. Add the corrected dose once, stir, cover and wait, then test again.",
	},
	tellSupervisor: false,
	next: { check: "after-second-dose", afterMinutes: "contact" },
});

const stillTooLow = (belowMgPerL: number): Band => ({
	...doseOnceMore(belowMgPerL),
	code: "still-too-low",
	action: {
		code: "look-for-the-cause",
		does: "otherSource",
		text: "Don't drink, and don't add a third dose. Use another source. Test the bleach; look at turbidity and container; ammonia may take the chlorine; make a jar test.",
	},
	tellSupervisor: true,
	next: { end: "otherSource" },
});

/** Two doses by turbidity and the published limits: what every household has until it is moved. */
export const twoDose: Protocol = {
	code: "two-dose",
	version: 1,
	title: "Two doses, published values",
	source: {
		kind: "published",
		sources: [
			"Lantagne 2008, J AWWA 100(8):106: 1.875 mg/L in clear water, used within 24 h; 3.75 mg/L in turbid water",
			"Wilhelm et al. 2018, J Water Health 16:112: 3.75 mg/L in water of unimproved sources, used within 8 h",
			"WHO, Guidelines for drinking-water quality: guideline value 5 mg/L; at least 0.5 mg/L after 30 minutes at pH under 8; at least 0.2 mg/L at the point of use",
			"MSF, Management of a cholera epidemic, appendix 16: 60 minutes and 1.0 mg/L over pH 8",
			"WHO/WEDC Technical Note 11: 30 minutes at 18 °C or more, longer if colder",
			"Mohamed et al. 2015, J Water Health 13:544: nothing reliable over 100 NTU",
		],
	},
	notes: [
		"At pH 8 itself the longer wait and the higher residual hold. The wait doubles for each 10 °C under 18 °C: the sources say longer, the figure is from the US EPA regression (0.933 for each °C).",
		"What follows from a reading that isn't fit is this project's choice: one corrected dose, no third one.",
		"The local health authority's own rules come first.",
	],
	closings: [],
	pretreatment: [
		{ turbidity: "cloudy", code: "settle-and-strain", text: "Let it settle, then pour the clear part through a clean cloth." },
		{
			turbidity: "veryTurbid",
			code: "clear-it-first",
			text: "Don't add bleach. Settle, filter or flocculate it until it is under 100 NTU, then dose it as cloudy water.",
		},
	],
	doses: {
		clear: { give: { mgPerL: 1.875 }, useWithinHours: 24 },
		cloudy: { give: { mgPerL: 3.75 }, useWithinHours: 8 },
		veryTurbid: null,
	},
	doubling: null,
	contact: { minutes: 30, cold: { belowC: 18, doubledEachC: 10 }, factorAtPH8AndOver: 2 },
	drinkFrom: "contactTime",
	checks: [
		{
			code: "after-contact",
			title: "After the contact time",
			kind: "afterContact",
			begins: "afterDose",
			bands: [doseOnceMore(0.5), fitFrom(0.5), strong, tooHigh("after-contact")],
			bandsAtPH8AndOver: [doseOnceMore(1), fitFrom(1), strong, tooHigh("after-contact")],
		},
		{
			code: "after-second-dose",
			title: "After the second dose",
			kind: "afterContact",
			begins: null,
			bands: [stillTooLow(0.5), fitFrom(0.5), strong, tooHigh("after-second-dose")],
			bandsAtPH8AndOver: [stillTooLow(1), fitFrom(1), strong, tooHigh("after-second-dose")],
		},
		{
			code: "point-of-use",
			title: "At the point of use",
			kind: "pointOfUse",
			begins: "atVisit",
			bands: [
				{
					...doseOnceMore(0.2),
					action: {
						code: "dose-stored-water",
						does: "doseAgain",
						text: "Don't drink. Dose this water once again, stir, cover and wait, then test. From now on use treated water sooner, and clean the container.",
					},
				},
				fitFrom(0.2),
				strong,
				tooHigh("point-of-use"),
			],
		},
	],
};
