import type { Policy } from "../../programme/policy.js";
import type { Period } from "./period.js";

/** What an indicator is asked of: where, when, and by which rules. */
export interface Asked {
	readonly kind: "sqlite" | "postgres";
	readonly period: Period;
	readonly policy: Policy;
	/** Puts a value into the statement. @returns its place, `$1` */
	readonly place: (value: unknown) => string;
	/** @returns a condition on a column that holds an area's id */
	readonly within: (column: string) => string;
	/** @returns a condition on a column of ids: those of one part, where they are counted part by part */
	readonly part: (column: string) => string;
}

/** What is counted: one row each, with `id`, `code`, `area_id`, and columns of facts from which indicators are told. */
export interface Subjects {
	/** One of them, and several, as a reader says it. */
	readonly one: string;
	readonly several: string;
	/** SELECT that gives the rows; instants of the period are written into it as whole numbers. */
	readonly rows: (asked: Asked) => string;
	/** The table whose rows they are one by one, where there may be so many that they are counted part by part; it then asks for `part`. */
	readonly partsOf?: "household";
}

/** Where a definition comes from. */
export type DefinitionSource =
	/** As it is published; `how` says what is ours in it. */
	| { readonly kind: "published"; readonly source: string; readonly how: string }
	| { readonly kind: "own"; readonly because: string };

/** A figure of coverage: one definition, by which it is counted, explained and opened up to the records behind it. */
export interface Indicator {
	/** In addresses, files and exports; never changed once released. */
	readonly code: string;
	readonly name: string;
	/** Which end is wanted. */
	readonly wanted: "more" | "less";
	readonly subjects: Subjects;
	/** What counts as the numerator, of what, with the programme's own figures. */
	readonly words: (policy: Policy) => string;
	/** Of which of them nothing can be said, and why. */
	readonly missing: string;
	readonly source: DefinitionSource;
	/** SQL on the columns of the subjects: 1 in the numerator, 0 in the denominator alone, NULL missing. */
	readonly met: (asked: Asked) => string;
}

/** The same as a reader is shown it. */
export interface Definition {
	readonly code: string;
	readonly name: string;
	readonly wanted: "more" | "less";
	/** What is counted. */
	readonly counted: string;
	readonly words: string;
	readonly missing: string;
	readonly source: string;
}

export function definitionOf(indicator: Indicator, policy: Policy): Definition {
	const { code, name, wanted, subjects, missing, source } = indicator;
	return {
		...{ code, name, wanted, counted: subjects.several, words: indicator.words(policy), missing },
		source: source.kind === "own" ? `own definition: ${source.because}` : `${source.source}; ${source.how}`,
	};
}
