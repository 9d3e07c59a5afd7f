import { type DoseCase, doseCases } from "./doses.js";
import { figure } from "./ends.js";
import type { Finding } from "./finding.js";
import { guideline } from "./guideline.js";
import type { Protocol } from "./protocol.js";

const overGuideline = ({ mgPerL }: DoseCase): boolean => mgPerL.strong > guideline.mostMgPerL;

/** Left after the contact time by the weakest bleach in the water that takes most. */
const leastLeft = ({ mgPerL, demandMgPerL }: DoseCase): number => mgPerL.weak - demandMgPerL.high;

const mayNotSuffice = (one: DoseCase): boolean => leastLeft(one) < guideline.leastAfterContactMgPerL;

/**
 * Whether nobody may drink before the residual has been read.
 * @returns true where a dose could leave more than 5 mg/L in water that takes none of it, or less than 0.5 mg/L in water that takes
 *   as much as is usual, with bleach a fifth weaker or stronger than it should be
 * Derived from the doses, whatever the protocol itself says of checks.
 */
export function needsCheckBeforeDrinking(protocol: Protocol): boolean {
	return doseCases(protocol).some((one) => overGuideline(one) || mayNotSuffice(one));
}

/** @returns where doses and guideline values part, with the figures, and what a strong dose does to a test */
export function doseFindings(protocol: Protocol): Finding[] {
	const isChecked = protocol.drinkFrom === "fitReading";
	const consequence = isChecked
		? "Nobody drinks before the residual check has found it fit."
		: "So the residual check must come before anybody drinks, and this protocol lets people drink without it.";
	return doseCases(protocol).flatMap((one): Finding[] => {
		const severity = isChecked ? "warn" : "refuse";
		const found: Finding[] = [];
		if (overGuideline(one))
			found.push({
				severity,
				code: "dose-over-guideline",
				sentence: `${doseSentence(one)}: ${excessSentence(one)} ${consequence}`,
				at: one.at,
				figures: figuresOf(one),
			});
		if (mayNotSuffice(one))
			found.push({
				severity,
				code: "dose-may-not-suffice",
				sentence: `${doseSentence(one)}: in ${one.waters} that takes ${figure(one.demandMgPerL.high)} mg/L the least that is left is ${figure(Math.max(0, leastLeft(one)))} mg/L, under ${guideline.leastAfterContactMgPerL} mg/L. ${consequence}`,
				at: one.at,
				figures: figuresOf(one),
			});
		if (one.mgPerL.strong >= guideline.kitsMayBleachFromMgPerL)
			found.push({
				severity: "warn",
				code: "kit-may-bleach-out",
				sentence: `${doseSentence(one)}: over about ${guideline.kitsMayBleachFromMgPerL} mg/L some kits lose their colour and show nothing. A reading of nothing after this dose is repeated with a diluted sample before more is added.`,
				at: one.at,
				figures: figuresOf(one),
			});
		return found;
	});
}

function doseSentence({ amount, mgPerL, strengthGPerL, waters }: DoseCase): string {
	if ("mgPerL" in amount) return `${figure(amount.mgPerL)} mg/L in ${waters}`;
	const { weak, nominal, strong } = strengthGPerL as NonNullable<DoseCase["strengthGPerL"]>;
	return (
		`${figure(amount.mlPerL)} mL per litre at a measured ${figure(nominal)} g/L is ${figure(mgPerL.nominal)} mg/L in ${waters}` +
		` (${figure(mgPerL.weak)} at ${figure(weak)} g/L, ${figure(mgPerL.strong)} at ${figure(strong)} g/L)`
	);
}

function excessSentence({ mgPerL, demandMgPerL }: DoseCase): string {
	const { mostMgPerL } = guideline;
	// Where only the strong bleach passes the value, that is the dose to speak of.
	const [excess, at] =
		mgPerL.nominal > mostMgPerL ? [mgPerL.nominal - mostMgPerL, ""] : [mgPerL.strong - mostMgPerL, " at the strongest"];
	const takes = `${figure(demandMgPerL.low)} to ${figure(demandMgPerL.high)} mg/L is usual`;
	return `over the guideline value of ${mostMgPerL} mg/L${at} unless the water's demand takes ${figure(excess)} mg/L or more; ${takes}.`;
}

function figuresOf({ amount, mgPerL, strengthGPerL, demandMgPerL }: DoseCase): Finding["figures"] {
	return {
		...("mlPerL" in amount ? { mlPerL: amount.mlPerL } : {}),
		...(strengthGPerL
			? { weakGPerL: strengthGPerL.weak, nominalGPerL: strengthGPerL.nominal, strongGPerL: strengthGPerL.strong }
			: {}),
		weakMgPerL: mgPerL.weak,
		nominalMgPerL: mgPerL.nominal,
		strongMgPerL: mgPerL.strong,
		lowDemandMgPerL: demandMgPerL.low,
		highDemandMgPerL: demandMgPerL.high,
		mostMgPerL: guideline.mostMgPerL,
	};
}
