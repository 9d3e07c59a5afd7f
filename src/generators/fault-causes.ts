/** What makes bleach weak. */
export type FaultCause = "battery" | "electrode" | "salt";

/** What is known of each cause. */
export interface FaultEvidence {
	/** Whether the battery carried the run; "not used": the run had another source. */
	readonly battery: "not enough" | "doubtful" | "enough" | "unknown" | "not used";
	/** Whether the current efficiency fell beyond its control limit. */
	readonly electrode: "fallen" | "steady" | "unknown";
	/** Salt that was weighed in, against what was planned. */
	readonly salt: "short" | "right" | "unknown";
}

/** A cause and how likely it is. */
export interface LikelyCause {
	readonly cause: FaultCause;
	/** 0 to 1; the three add up to 1. */
	readonly share: number;
}

/**
 * How often each is the cause before anything is known: 3 to 2 to 1. Common practice, no source: a battery that isn't full comes
 * first, then the electrode, then the salt.
 */
const BEFORE: readonly (readonly [FaultCause, number])[] = [
	["battery", 3],
	["electrode", 2],
	["salt", 1],
];

/** How many times likelier each finding makes its cause. Own choice. */
const TIMES = {
	battery: { "not enough": 6, doubtful: 2, enough: 0.25, unknown: 1, "not used": 0.05 },
	electrode: { fallen: 6, steady: 0.25, unknown: 1 },
	salt: { short: 12, right: 0.25, unknown: 1 },
} as const satisfies { readonly [C in FaultCause]: Readonly<Record<FaultEvidence[C], number>> };

/** @returns the causes, the likeliest first: what was likely before, times what the evidence says of each */
export function likelyCauses(evidence: FaultEvidence): LikelyCause[] {
	const times = (cause: FaultCause): number =>
		cause === "battery"
			? TIMES.battery[evidence.battery]
			: cause === "electrode"
				? TIMES.electrode[evidence.electrode]
				: TIMES.salt[evidence.salt];
	const weighed = BEFORE.map(([cause, before]) => ({ cause, weight: before * times(cause) }));
	const all = weighed.reduce((sum, { weight }) => sum + weight, 0);
	return weighed.map(({ cause, weight }) => ({ cause, share: weight / all })).sort((a, b) => b.share - a.share);
}

/** Less than this share of the planned salt is short. Own choice: a spoonful more or less isn't. */
const SHORT_SHARE = 0.85;

/** @returns what the salt that was weighed in says */
export function saltEvidence(saltGPerL: number, plannedGPerL: number): FaultEvidence["salt"] {
	return saltGPerL < SHORT_SHARE * plannedGPerL ? "short" : "right";
}

/** What was found, as it is answered by its number: fixed, so that an operator knows them by heart. */
export const FINDINGS = [
	{ number: 1, cause: "battery", found: "battery was flat: charged" },
	{ number: 2, cause: "battery", found: "battery was worn out: another one put in" },
	{ number: 3, cause: "electrode", found: "electrode was scaled: cleaned" },
	{ number: 4, cause: "electrode", found: "electrode was worn or broken: a new one put in" },
	{ number: 5, cause: "salt", found: "too little salt, or wet salt: weighed anew" },
] as const satisfies readonly { readonly number: number; readonly cause: FaultCause; readonly found: string }[];

export type Finding = (typeof FINDINGS)[number];
