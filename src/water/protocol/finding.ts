import type { Problem } from "../../errors/errors.js";

/** `refuse`: the protocol isn't accepted as it stands; `warn`: its people must know; `note`: good to know. */
export type Severity = "refuse" | "warn" | "note";

export type FindingCode =
	| "gap"
	| "overlap"
	| "never-ends"
	| "never-reached"
	| "fit-over-guideline"
	| "fit-under-least"
	| "fit-under-least-at-ph-8"
	| "drunk-though-not-fit"
	| "contact-too-short"
	| "contact-too-short-when-cold"
	| "contact-too-short-at-ph-8"
	| "dosed-without-check"
	| "checked-too-soon"
	| "dose-over-guideline"
	| "dose-may-not-suffice"
	| "kit-may-bleach-out"
	| "over-100-ntu-dosed"
	| "use-within-unknown"
	| "use-within-too-long"
	| "no-check-at-use"
	| "no-source"
	| "closed-on-drinkers-side";

/** One thing that the checker found in a protocol. */
export interface Finding {
	readonly severity: Severity;
	readonly code: FindingCode;
	/** For people, with the figures. */
	readonly sentence: string;
	/** JSON Pointer (RFC 6901) into the protocol. */
	readonly at: string;
	/** The same figures for machines, each named with its unit. */
	readonly figures: Readonly<Record<string, number>>;
}

const SEVERITIES: readonly Severity[] = ["refuse", "warn", "note"];

/** @returns the gravest first, otherwise in their order */
export function gravestFirst(findings: readonly Finding[]): Finding[] {
	return SEVERITIES.flatMap((severity) => findings.filter((finding) => finding.severity === severity));
}

/** @returns what speaks against accepting */
export const refusals = (findings: readonly Finding[]): Finding[] => findings.filter(({ severity }) => severity === "refuse");

export const problemOf = ({ at, sentence }: Finding): Problem => ({ at, message: sentence });
