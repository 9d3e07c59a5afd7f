import { guideline } from "./guideline.js";
import type { Band, Protocol } from "./protocol.js";

/** Code of the check that the programme adds where a protocol has none. */
export const AT_USE = "at-use";

/**
 * A protocol with a check where water is used: many written ones look at fresh water only, and yet stored water is read.
 * @param leastMgPerL the programme's least residual at the point of use, mg/L
 * @returns the protocol itself where it has one; else with the programme's own: under the least the water is dosed again as the protocol
 *   doses it and checked as after a dose, over the guideline value it is lowered and checked again
 * Source: WHO Guidelines for drinking-water quality: at least 0.2 mg/L at the point of use, at most 5 mg/L.
 */
export function withCheckAtUse(protocol: Protocol, leastMgPerL: number): Protocol {
	if (protocol.checks.some(({ begins }) => begins === "atVisit")) return protocol;
	const afterDose = protocol.checks.find(({ begins }) => begins === "afterDose");
	if (!afterDose) return protocol;
	const next = { check: afterDose.code, afterMinutes: "contact" as const };
	const low: Band = {
		code: "low-at-use",
		fromMgPerL: 0,
		belowMgPerL: leastMgPerL,
		meaning: "tooLow",
		action: {
			code: "dose-stored-water",
			does: "doseAgain",
			text: "Don't drink. Dose this water once again, stir, cover and wait, then test. From now on use treated water sooner, and clean the container.",
		},
		tellSupervisor: false,
		next,
	};
	const fit: Band = {
		code: "fit-at-use",
		fromMgPerL: leastMgPerL,
		upToMgPerL: guideline.mostMgPerL,
		meaning: "fit",
		action: { code: "drink", does: "drink", text: "Fit to drink. Keep it covered." },
		tellSupervisor: false,
		next: { end: "drink" },
	};
	const high: Band = {
		code: "high-at-use",
		overMgPerL: guideline.mostMgPerL,
		meaning: "tooHigh",
		action: {
			code: "dilute",
			does: "lowerChlorine",
			text: "Don't drink. Mix it with treated water that reads less, cover and wait, then test again. Check the measure and the strength of the bleach.",
		},
		tellSupervisor: true,
		next,
	};
	const check = { code: AT_USE, title: "Where the water is used", kind: "pointOfUse", begins: "atVisit" } as const;
	return { ...protocol, checks: [...protocol.checks, { ...check, bands: [low, fit, high] }] };
}
