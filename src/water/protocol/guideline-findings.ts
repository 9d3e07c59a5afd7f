import { contactMinutes } from "../../science/contact-time.js";
import { edgeBefore, endOf, figure, readingsBetween, startOf } from "./ends.js";
import type { Finding } from "./finding.js";
import { guideline } from "./guideline.js";
import { placeName } from "./partition-findings.js";
import { BAND_LISTS, type Check, type Protocol } from "./protocol.js";
import { contactMinutesIn } from "./waits.js";

/** @returns where the protocol and the published values part: bands, contact time, turbidity, hours of use */
export function guidelineFindings(protocol: Protocol): Finding[] {
	return [...bandFindings(protocol), ...contactFindings(protocol), ...turbidityFindings(protocol), ...useFindings(protocol)];
}

type List = (typeof BAND_LISTS)[number];

function leastMgPerL(check: Check, list: List): number {
	if (check.kind === "pointOfUse") return guideline.leastAtUseMgPerL;
	return list === "bands" ? guideline.leastAfterContactMgPerL : guideline.leastAfterContactAtPH8MgPerL;
}

function bandFindings(protocol: Protocol): Finding[] {
	return protocol.checks.flatMap((check, c) =>
		BAND_LISTS.flatMap((list) =>
			(check[list] ?? []).flatMap((band, b): Finding[] => {
				if (band.meaning !== "fit") return [];
				const [start, end] = [startOf(band), endOf(band)];
				const said = `${placeName(check, list)}: "${band.code}" calls readings ${readingsBetween({ start, end })} fit to drink;`;
				const at = `/checks/${c}/${list}/${b}`;
				const found: Finding[] = [];
				if (edgeBefore({ mgPerL: guideline.mostMgPerL, after: true }, end))
					found.push({
						severity: "refuse",
						code: "fit-over-guideline",
						sentence: `${said} the guideline value is ${guideline.mostMgPerL} mg/L.`,
						at,
						figures: { mostMgPerL: guideline.mostMgPerL },
					});
				const least = leastMgPerL(check, list);
				if (edgeBefore(start, { mgPerL: least, after: false }))
					found.push({
						severity: "refuse",
						code: "fit-under-least",
						sentence: `${said} at least ${least} mg/L is needed there.`,
						at,
						figures: { startMgPerL: start.mgPerL, leastMgPerL: least },
					});
				else if (isShortAtPH8(check, list, start.mgPerL))
					found.push({
						severity: "warn",
						code: "fit-under-least-at-ph-8",
						sentence: `${said} at pH 8 and over ${figure(guideline.leastAfterContactAtPH8MgPerL)} mg/L is needed, and the check has no bands for it.`,
						at,
						figures: { startMgPerL: start.mgPerL, leastMgPerL: guideline.leastAfterContactAtPH8MgPerL },
					});
				return found;
			}),
		),
	);
}

function isShortAtPH8(check: Check, list: List, startMgPerL: number): boolean {
	const noBandsOfItsOwn = list === "bands" && check.bandsAtPH8AndOver === undefined;
	return check.kind === "afterContact" && noBandsOfItsOwn && startMgPerL < guideline.leastAfterContactAtPH8MgPerL;
}

const COLD_C = 10;

function contactFindings({ contact }: Protocol): Finding[] {
	const at = "/contact";
	if (contact.minutes < guideline.contactMinutes)
		return [
			{
				severity: "refuse",
				code: "contact-too-short",
				sentence: `The contact time is ${contact.minutes} min; ${guideline.contactMinutes} min is the least.`,
				at,
				figures: { minutes: contact.minutes, leastMinutes: guideline.contactMinutes },
			},
		];
	const cases = [
		["contact-too-short-when-cold", `in water of ${COLD_C} °C`, { waterTemperatureC: COLD_C }],
		["contact-too-short-at-ph-8", "at pH 8 and over", { waterTemperatureC: 20, pHClass: "aboveEight" }],
	] as const;
	return cases.flatMap(([code, where, water]): Finding[] => {
		const minutes = contactMinutesIn(contact, water);
		const needed = Math.ceil(contactMinutes(water) - 1e-9);
		if (minutes >= needed) return [];
		const sentence = `The wait is ${minutes} min ${where}; chlorine needs about ${needed} min there.`;
		return [{ severity: "warn", code, sentence, at, figures: { minutes, neededMinutes: needed } }];
	});
}

function turbidityFindings({ doses }: Protocol): Finding[] {
	if (!doses.veryTurbid) return [];
	return [
		{
			severity: "refuse",
			code: "over-100-ntu-dosed",
			sentence: `Water over ${guideline.mostTurbidNtu} NTU is dosed; no household dose was reliable there. It is settled, filtered or flocculated first.`,
			at: "/doses/veryTurbid",
			figures: { mostNtu: guideline.mostTurbidNtu },
		},
	];
}

function useFindings(protocol: Protocol): Finding[] {
	const hours = (["clear", "cloudy"] as const).flatMap((turbidity): Finding[] => {
		const { useWithinHours } = protocol.doses[turbidity];
		const most = guideline.useWithinHours[turbidity];
		const at = `/doses/${turbidity}/useWithinHours`;
		if (useWithinHours === null)
			return [
				{
					severity: "warn",
					code: "use-within-unknown",
					sentence: `Nothing is said of how long treated ${turbidity} water keeps; published is ${most} h.`,
					at,
					figures: { publishedHours: most },
				},
			];
		if (useWithinHours <= most) return [];
		const sentence = `Treated ${turbidity} water is used for ${useWithinHours} h; a residual was found for ${most} h.`;
		return [{ severity: "warn", code: "use-within-too-long", sentence, at, figures: { useWithinHours, publishedHours: most } }];
	});
	if (protocol.checks.some(({ kind }) => kind === "pointOfUse")) return hours;
	const least = guideline.leastAtUseMgPerL;
	const sentence = `No check looks at the water where it is used; at least ${least} mg/L is wanted there.`;
	return [...hours, { severity: "warn", code: "no-check-at-use", sentence, at: "/checks", figures: { leastMgPerL: least } }];
}
