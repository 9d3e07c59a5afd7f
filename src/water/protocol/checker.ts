import { doseFindings } from "./dose-findings.js";
import { type Finding, gravestFirst } from "./finding.js";
import { guidelineFindings } from "./guideline-findings.js";
import { partitionFindings } from "./partition-findings.js";
import type { Protocol } from "./protocol.js";
import { stepFindings } from "./step-findings.js";

/**
 * Everything that is to be said of a protocol before it is accepted.
 *
 * @param protocol any that has the right form
 * @returns findings, the gravest first; a protocol with a refusal isn't accepted. None doesn't mean that a protocol is good: only that
 *   it answers every reading, ends, and is at one with the published values as far as it gives figures
 * The local health authority's own rules come first; the checker doesn't know them.
 */
export function protocolFindings(protocol: Protocol): Finding[] {
	return gravestFirst([
		...partitionFindings(protocol),
		...stepFindings(protocol),
		...doseFindings(protocol),
		...guidelineFindings(protocol),
		...originFindings(protocol),
	]);
}

function originFindings(protocol: Protocol): Finding[] {
	const closed = protocol.closings.map(
		(sentence, i): Finding => ({
			severity: "warn",
			code: "closed-on-drinkers-side",
			sentence,
			at: `/closings/${i}`,
			figures: {},
		}),
	);
	if (protocol.source.kind === "published") return closed;
	const sentence = "This is common practice without a source.";
	return [...closed, { severity: "note", code: "no-source", sentence, at: "/source", figures: {} }];
}
