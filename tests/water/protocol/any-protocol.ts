import fc from "fast-check";
import type { Band, Check, Protocol } from "../../../src/water/protocol/protocol.js";
import { twoDose } from "../../../src/water/protocols/two-dose.js";

const CHECKS = ["first", "second", "third"] as const;

const acts = { fit: "drink", tooLow: "doseAgain", tooHigh: "lowerChlorine" } as const;

/** Mostly on to a later check or to the end, seldom to any: else nearly every protocol would go in circles. */
const anyNext = (from: number): fc.Arbitrary<Next> => {
	const to = (codes: readonly string[]) => fc.constantFrom(...codes).map((check): Next => ({ check, afterMinutes: "contact" }));
	const later = CHECKS.slice(from + 1);
	return fc.oneof(
		{ weight: 20, arbitrary: later.length > 0 ? to(later) : fc.constant(null) },
		{ weight: 20, arbitrary: fc.constant(null) },
		{ weight: 1, arbitrary: to(CHECKS) },
	);
};

type Next = { check: string; afterMinutes: "contact" } | null;

function outcomeOf(meaning: Band["meaning"], next: Next, code: string) {
	const ends = { fit: "drink", tooLow: "otherSource", tooHigh: "discard" } as const;
	const does = next ? acts[meaning] : ends[meaning];
	return { action: { code, does, text: "invented" }, tellSupervisor: false, next: next ?? { end: ends[meaning] } };
}

/** What follows in a band: without a bound, or the first times to any check and later as without a bound. */
const anyWay = (from: number) =>
	fc.oneof(
		fc.record({ next: anyNext(from), repeat: fc.constant(null) }),
		fc.record({
			next: fc.constantFrom(...CHECKS).map((check): Next => ({ check, afterMinutes: "contact" })),
			repeat: fc.record({ time: fc.integer({ min: 2, max: 4 }), next: anyNext(from) }),
		}),
	);

/** Bands that hold every reading once: too low, fit between 1 and 5 mg/L, too high; each cut in pieces at random. */
const anyBands = (from: number): fc.Arbitrary<Band[]> =>
	fc
		.record({
			cuts: fc.uniqueArray(fc.integer({ min: 1, max: 160 }), { maxLength: 4 }),
			ways: fc.array(anyWay(from), { minLength: 8, maxLength: 8 }),
		})
		.map(({ cuts, ways }) => {
			const edges = [...new Set([0, 20, 100, ...cuts])].sort((a, b) => a - b);
			return edges.map((edge, i): Band => {
				const meaning = edge < 20 ? "tooLow" : edge < 100 ? "fit" : "tooHigh";
				const { next, repeat } = ways[i]!;
				const top = edges[i + 1];
				// The lowest band leads on, so that every check can be come to.
				const later = i === 0 ? CHECKS[from + 1] : undefined;
				return {
					code: `band-${i}`,
					fromMgPerL: edge / 20,
					...(top === undefined ? {} : { belowMgPerL: top / 20 }),
					meaning,
					...outcomeOf(meaning, later ? { check: later, afterMinutes: "contact" } : next, "act"),
					...(repeat ? { repeated: { time: repeat.time, ...outcomeOf(meaning, repeat.next, "act-again") } } : {}),
				};
			});
		});

const anyCheck = (code: string, from: number): fc.Arbitrary<Check> =>
	fc.record({ bands: anyBands(from), atPH8: fc.option(anyBands(from)) }).map(({ bands, atPH8 }) => ({
		code,
		title: `Check ${code}`,
		kind: "afterContact",
		begins: from === 0 ? "afterDose" : null,
		bands,
		...(atPH8 ? { bandsAtPH8AndOver: atPH8 } : {}),
	}));

/** Invented protocols of the right form that answer every reading; their steps may go on for ever, and checks may be out of reach. */
export const anyWholeProtocol: fc.Arbitrary<Protocol> = fc
	.tuple(...CHECKS.map((code, from) => anyCheck(code, from)))
	.map((checks) => ({ ...twoDose, code: "invented", checks }));

/** The same with bands that were pulled about: gaps and overlaps. */
export const anyProtocol: fc.Arbitrary<Protocol> = fc
	.tuple(anyWholeProtocol, fc.array(fc.integer({ min: -30, max: 30 }), { minLength: 30, maxLength: 30 }))
	.map(([protocol, pulls]) => ({
		...protocol,
		checks: protocol.checks.map((check, c) => ({
			...check,
			bands: check.bands.map((band, b) => {
				const top = band.belowMgPerL;
				const pulled = top === undefined ? undefined : top + (pulls[c * 10 + b] ?? 0) / 20;
				return pulled === undefined || pulled <= (band.fromMgPerL ?? 0) ? band : { ...band, belowMgPerL: pulled };
			}),
		})),
	}));
