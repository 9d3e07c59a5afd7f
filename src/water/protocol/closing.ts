import { type Edge, endsBetween, gapName, readingsBetween, type Stretch, stretchesOf } from "./ends.js";
import type { Finding } from "./finding.js";
import { guideline } from "./guideline.js";
import { placeName } from "./partition-findings.js";
import { BAND_LISTS, type Band, type Check, type Outcome, type Protocol } from "./protocol.js";
import { endlessSteps } from "./steps.js";

/** A protocol as it may be accepted, and what had to be changed for it. */
export interface Closed {
	readonly protocol: Protocol;
	readonly findings: readonly Finding[];
}

/**
 * A protocol whose holes are closed on the side that protects the drinker; each change is said in its `closings`.
 *
 * @param protocol any that has the right form
 * @returns the protocol in which
 *   - a reading in a gap falls in the stricter of the two neighbouring bands, and one in an overlap in the stricter of the two;
 *   - steps that could go on without end stop the third time, the water not drunk and the supervisor told (three: this project's choice);
 *   - water over 100 NTU isn't dosed.
 *   A gap at the bottom or the top whose only neighbour calls water fit isn't closed: no reading tells that water beyond it is fit. The
 *   checker goes on to refuse it, as it does every other conflict
 */
export function closedOnDrinkersSide(protocol: Protocol): Closed {
	const findings: Finding[] = [];
	const say = (sentence: string, at: string): void =>
		void findings.push({ severity: "warn", code: "closed-on-drinkers-side", sentence, at, figures: {} });
	const checks = protocol.checks.map((check, c) => {
		const closed: Check = { ...check };
		for (const list of BAND_LISTS) {
			const bands = check[list];
			if (bands) closed[list] = bandsClosed(bands, (text) => say(`${placeName(check, list)}: ${text}`, `/checks/${c}/${list}`));
		}
		return closed;
	});
	const bounded = stepsBounded({ ...protocol, checks }, say);
	const { veryTurbid } = protocol.doses;
	if (veryTurbid)
		say(
			`Water over ${guideline.mostTurbidNtu} NTU was dosed too; it isn't any more until it is settled, filtered or flocculated.`,
			"/doses/veryTurbid",
		);
	return {
		protocol: {
			...bounded,
			doses: { ...protocol.doses, veryTurbid: null },
			closings: [...protocol.closings, ...findings.map(({ sentence }) => sentence)],
		},
		findings,
	};
}

const ACTS = ["drink", "lowerChlorine", "doseAgain", "discard", "otherSource"] as const;

/** What isn't fit is stricter than what is, then the graver act, then the one that is told. */
function strictness({ meaning, action, tellSupervisor }: Band): number {
	return (meaning === "fit" ? 0 : 100) + ACTS.indexOf(action.does) * 10 + Number(tellSupervisor);
}

const stricter = (a: Band, b: Band): Band => (strictness(b) > strictness(a) ? b : a);

function bandsClosed(bands: readonly Band[], say: (text: string) => void): Band[] {
	const stretches = stretchesOf(bands);
	const owned = stretches.map((stretch, i) => ({ ...stretch, owner: ownerOf(stretch, stretches[i - 1], stretches[i + 1]) }));
	for (const { owner, holders, ...stretch } of owned) {
		if (!owner || holders.length === 1) continue;
		const had = holders.length === 0 ? "had no band" : `were in ${holders.map(({ code }) => `"${code}"`).join(" and ")}`;
		const name = `${holders.length === 0 ? "gap" : "overlap"} ${gapName(stretch)}`;
		say(`readings ${readingsBetween(stretch)} ${had} (${name}); they now count as "${owner.code}", the stricter one.`);
	}
	return rejoined(owned);
}

function ownerOf(stretch: Stretch<Band>, lower: Stretch<Band> | undefined, upper: Stretch<Band> | undefined): Band | undefined {
	if (stretch.holders.length > 0) return stretch.holders.reduce(stricter);
	const below = lower?.holders.reduce(stricter);
	const above = upper?.holders.reduce(stricter);
	if (below && above) return stricter(below, above);
	const only = below ?? above;
	return only?.meaning === "fit" ? undefined : only;
}

/** Neighbouring stretches of one owner become one band again; a band that was cut in pieces has a code for each. */
function rejoined(owned: readonly { start: Edge; end: Edge; owner: Band | undefined }[]): Band[] {
	const joined: { start: Edge; end: Edge; owner: Band | undefined }[] = [];
	for (const one of owned) {
		const last = joined.at(-1);
		if (last?.owner && last.owner === one.owner) last.end = one.end;
		else joined.push({ ...one });
	}
	const used = new Set(joined.flatMap(({ owner }) => (owner ? [owner.code] : [])));
	const pieces = new Map<Band, number>();
	return joined.flatMap(({ start, end, owner }) => {
		if (!owner) return [];
		const piece = (pieces.get(owner) ?? 0) + 1;
		pieces.set(owner, piece);
		const { fromMgPerL: _f, overMgPerL: _o, belowMgPerL: _b, upToMgPerL: _u, ...rest } = owner;
		return [{ ...rest, code: piece === 1 ? owner.code : freeCode(owner.code, piece, used), ...endsBetween(start, end) }];
	});
}

function freeCode(code: string, piece: number, used: Set<string>): string {
	// Codes have 40 characters at most.
	const stem = code.slice(0, 30).replace(/-$/, "");
	let number = piece;
	let free = `${stem}-${number}`;
	while (used.has(free)) free = `${stem}-${++number}`;
	used.add(free);
	return free;
}

const LAST_TIME = 3;

const STOP: Outcome = {
	action: {
		code: "stop-and-ask",
		does: "otherSource",
		text: "Stop here: don't drink this water. Use water from another source, and ask the supervisor what is wrong with the bleach, the measure or the water.",
	},
	tellSupervisor: true,
	next: { end: "otherSource" },
};

function stepsBounded(protocol: Protocol, say: (sentence: string, at: string) => void): Protocol {
	const endless = new Map(endlessSteps(protocol).map((step) => [step.band, step]));
	const bounded = (band: Band): Band => {
		const step = endless.get(band);
		if (!step) return band;
		const time = band.repeated?.time ?? LAST_TIME;
		const isFit = band.meaning === "fit";
		const stops = isFit ? "the water is drunk, and no check follows" : "the water isn't drunk, and the supervisor is told";
		say(
			`${step.check.title}: "${band.code}" could follow on itself without end; from time ${time} on it stops: ${stops}.`,
			step.at,
		);
		const last: Outcome = isFit ? { action: band.action, tellSupervisor: band.tellSupervisor, next: { end: "drink" } } : STOP;
		return { ...band, repeated: { time, ...last } };
	};
	return {
		...protocol,
		checks: protocol.checks.map((check) => ({
			...check,
			bands: check.bands.map(bounded),
			...(check.bandsAtPH8AndOver ? { bandsAtPH8AndOver: check.bandsAtPH8AndOver.map(bounded) } : {}),
		})),
	};
}
