/** Pictures of the ground beneath the maps, from another machine. */
export interface MapTiles {
	/** `https://tiles.example.org/{z}/{x}/{y}.png` */
	readonly template: string;
	/** The only one besides ourselves from which pages may load pictures. */
	readonly origin: string;
	/** Who made them, as their licence asks; plain text. */
	readonly attribution: string;
}

export const TILES_RIGHT =
	"is the http or https address of a tile with {z}, {x} and {y} once each behind the host and no other braces, user, password or #, such as https://tiles.example.org/{z}/{x}/{y}.png";

const NAMES = ["{z}", "{x}", "{y}"] as const;

/** @returns where tiles with such an address come from; none where it isn't the address of tiles. Source: WHATWG URL, section 4.7 (origin) */
export function tileOrigin(template: string): string | undefined {
	if (template.length > 500 || /[\s\p{Cc}]/u.test(template)) return undefined;
	if (NAMES.some((name) => template.split(name).length !== 2)) return undefined;
	const filled = NAMES.reduce((text, name) => text.replace(name, "1"), template);
	if (/[{}#]/.test(filled) || !URL.canParse(filled)) return undefined;
	const { protocol, username, password, origin } = new URL(filled);
	if (!/^https?:$/.test(protocol) || username || password) return undefined;
	// What varies stands behind the host: one origin is let in, and no other.
	const behind = template.indexOf("/", template.indexOf("//") + 2);
	return behind > 0 && NAMES.every((name) => template.indexOf(name) > behind) ? origin : undefined;
}
