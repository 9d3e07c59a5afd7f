import type { ProtocolAction } from "./protocol.js";

/** A usual caution; the code is its key in the catalogues. */
export interface Caution {
	readonly code: string;
	readonly text: string;
}

// The local health authority's own rules come first; these are the usual cautions where bleach and treated water are handled.

const localRules: Caution = {
	code: "local-rules",
	text: "The local health authority's own rules come first.",
};

/** Source: MSF, Management of a cholera epidemic; CDC environmental cleaning; details from memory. */
const handling: readonly Caution[] = [
	{
		code: "never-mix",
		text: "Never mix bleach with acid, vinegar, ammonia, urine, detergent or any other product: poisonous gas.",
	},
	{ code: "airy-place", text: "Measure outdoors in the shade, out of the wind, or in an airy room." },
	{ code: "protect-yourself", text: "Gloves and eye protection. Water first, then bleach, without a splash." },
	{ code: "plastic-only", text: "Plastic or glass measures only, no metal." },
	{ code: "children-away", text: "Keep bleach labelled, and out of the reach of children." },
	{
		code: "splash-first-aid",
		text: "In the eyes or on the skin: rinse with much water for 15 minutes. Swallowed: don't make the person vomit. Seek care.",
	},
];

/** Source: covered vessels and pouring, Emergency WASH compendium; Cryptosporidium, Zhou 2014 (CT 832 without effect). */
const drinking: readonly Caution[] = [
	{ code: "pour-dont-dip", text: "Keep it covered; pour it or use the tap, never dip a hand or a cup." },
	{ code: "not-everything", text: "Chlorine doesn't take out chemicals, and not every parasite." },
];

const pouring: readonly Caution[] = [
	{
		code: "clean-pouring",
		text: "Pour only between clean, disinfected containers, with clean hands, outdoors or in an airy room.",
	},
];

const readAgainDiluted: Caution = {
	code: "read-again-diluted",
	text: "After a strong dose some kits lose their colour and show nothing. Before adding more, mix the sample half and half with clean water without chlorine, read again, and count double.",
};

/**
 * Cautions that are told with an action.
 *
 * @param does the kind of act
 * @param isMaybeBleachedOut whether a low reading may come from a kit that has lost its colour over much chlorine
 * @returns cautions in the order in which they are told, the most urgent first
 */
export function cautionsFor(does: ProtocolAction["does"], isMaybeBleachedOut: boolean): Caution[] {
	const first = isMaybeBleachedOut ? [readAgainDiluted] : [];
	const own = { drink: drinking, doseAgain: handling, lowerChlorine: pouring, discard: [], otherSource: [] }[does];
	return [...first, ...own, localRules];
}
