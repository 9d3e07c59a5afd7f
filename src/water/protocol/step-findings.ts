import type { Finding } from "./finding.js";
import { guideline } from "./guideline.js";
import { BAND_LISTS, type Band, type Outcome, type Protocol } from "./protocol.js";
import { endlessSteps, reachedChecks } from "./steps.js";

/** @returns what is wrong with the way from reading to reading: steps without an end, checks nobody comes to, doses nobody checks */
export function stepFindings(protocol: Protocol): Finding[] {
	return [...endlessFindings(protocol), ...unreachedFindings(protocol), ...outcomeFindings(protocol)];
}

function endlessFindings(protocol: Protocol): Finding[] {
	return endlessSteps(protocol).map(({ check, band, at }) => ({
		severity: "refuse",
		code: "never-ends",
		sentence: `${check.title}: "${band.code}" (${band.action.text}) can follow on itself without end. Say what holds the second or third time.`,
		at,
		figures: {},
	}));
}

function unreachedFindings(protocol: Protocol): Finding[] {
	const reached = reachedChecks(protocol);
	return protocol.checks.flatMap((check, c): Finding[] =>
		reached.has(check.code)
			? []
			: [
					{
						severity: "refuse",
						code: "never-reached",
						sentence: `${check.title}: nothing leads to this check, neither a dose or a visit nor another check.`,
						at: `/checks/${c}`,
						figures: {},
					},
				],
	);
}

function outcomeFindings(protocol: Protocol): Finding[] {
	return protocol.checks.flatMap((check, c) =>
		BAND_LISTS.flatMap((list) =>
			(check[list] ?? []).flatMap((band, b) => {
				const at = `/checks/${c}/${list}/${b}`;
				const place = `${check.title}: "${band.code}"`;
				return [
					...findingsOfOutcome(protocol, band, band, place, at),
					...(band.repeated ? findingsOfOutcome(protocol, band, band.repeated, `${place}, repeated,`, `${at}/repeated`) : []),
				];
			}),
		),
	);
}

function findingsOfOutcome(protocol: Protocol, band: Band, outcome: Outcome, place: string, at: string): Finding[] {
	const { action, next } = outcome;
	const refuse = (code: Finding["code"], sentence: string, figures: Finding["figures"] = {}): Finding[] => [
		{ severity: "refuse", code, sentence: `${place} ${sentence}`, at, figures },
	];
	const isDrunk = action.does === "drink" || ("end" in next && next.end === "drink");
	if (isDrunk && band.meaning !== "fit") return refuse("drunk-though-not-fit", "isn't fit, and yet ends with drinking.");
	if (action.does !== "doseAgain") return [];
	if ("end" in next) return refuse("dosed-without-check", "doses again, and no check follows.");
	if (protocol.checks.find(({ code }) => code === next.check)?.kind !== "afterContact")
		return refuse(
			"dosed-without-check",
			`doses again, and the check that follows isn't held against ${guideline.leastAfterContactMgPerL} mg/L after the contact time.`,
		);
	const needed = Math.max(protocol.contact.minutes, guideline.contactMinutes);
	if (next.afterMinutes === "contact" || next.afterMinutes >= needed) return [];
	return refuse(
		"checked-too-soon",
		`doses again and checks after ${next.afterMinutes} min; a dose needs ${needed} min at least.`,
		{
			afterMinutes: next.afterMinutes,
			neededMinutes: needed,
		},
	);
}
