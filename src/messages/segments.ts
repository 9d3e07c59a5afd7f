/** How a text travels as SMS. */
export interface Segments {
	readonly encoding: "GSM-7" | "UCS-2";
	/** Septets of the GSM alphabet (an extension character takes two), or UTF-16 code units. */
	readonly units: number;
	/** What is paid for; 0 for an empty text, which can't be sent. */
	readonly segments: number;
}

const BASIC = new Set(
	"@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà",
);
const EXTENSION = new Set("\f^{}\\[~]|€");

/** Part of the basic alphabet: most texts, and quickly known. */
const PLAIN = /^[\n\r A-Za-z0-9!"#%&'()*+,./:;<=>?@$-]*$/;

/**
 * Counts the SMS segments of a text, composed to NFC first.
 * Neither an extension character nor a surrogate pair is split between two segments, so a long text may need one more than its length says.
 * @returns encoding, units and segments
 * Source: 3GPP TS 23.038, section 6.2.1 (alphabet and extension table); 3GPP TS 23.040, section 9.2.3.24 (160 septets or 70 code units alone, 153 or 67 in parts)
 */
export function segmentsOf(text: string): Segments {
	if (text.length <= 160 && PLAIN.test(text)) return { encoding: "GSM-7", units: text.length, segments: Math.sign(text.length) };
	const characters = [...text.normalize("NFC")];
	const isGsm = characters.every((c) => BASIC.has(c) || EXTENSION.has(c));
	const costs = characters.map((c) => (isGsm ? (EXTENSION.has(c) ? 2 : 1) : c.length));
	const units = costs.reduce((sum, cost) => sum + cost, 0);
	const [alone, inParts] = isGsm ? [160, 153] : [70, 67];
	return { encoding: isGsm ? "GSM-7" : "UCS-2", units, segments: units <= alone ? Math.sign(units) : partsOf(costs, inParts) };
}

function partsOf(costs: readonly number[], limit: number): number {
	let parts = 1;
	let used = 0;
	for (const cost of costs) {
		if (used + cost > limit) {
			parts++;
			used = 0;
		}
		used += cost;
	}
	return parts;
}

/**
 * Cuts a text, composed to NFC, into the parts in which it travels.
 * @returns as many as `segmentsOf` counts; nothing of a character is in one part and the rest in another
 */
export function partsOfText(text: string): string[] {
	const { encoding, segments } = segmentsOf(text);
	const composed = text.normalize("NFC");
	if (segments < 2) return segments === 0 ? [] : [composed];
	const limit = encoding === "GSM-7" ? 153 : 67;
	const parts = [""];
	let used = 0;
	for (const character of composed) {
		const cost = encoding === "UCS-2" ? character.length : EXTENSION.has(character) ? 2 : 1;
		if (used + cost > limit) {
			parts.push("");
			used = 0;
		}
		parts[parts.length - 1] += character;
		used += cost;
	}
	return parts;
}
