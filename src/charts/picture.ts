import { COLOURS } from "./marks.js";
import { element, escaped, label, rounded } from "./svg.js";

/** Width at which a picture is shown where nothing else sets one, px. */
const SHOWN_WIDTH = 640;

/** What every picture has: a title, a sentence for who can't see it, and a size in its own units. */
export interface Picture {
	readonly title: string;
	/** In one sentence, for who can't see the picture. */
	readonly description: string;
	readonly width: number;
	readonly height: number;
}

/** @returns an SVG document without scripts, styles from elsewhere or fonts of its own */
export function pictureSvg({ title, description, width, height }: Picture, parts: readonly string[]): string {
	const size = `width="${SHOWN_WIDTH}" height="${rounded((SHOWN_WIDTH * height) / width)}" viewBox="0 0 ${width} ${height}"`;
	const all = [
		`<title>${escaped(title)}</title>`,
		`<desc>${escaped(description)}</desc>`,
		element("rect", { width, height, fill: COLOURS.paper }),
		label(8, 24, title, { "font-size": 16, "font-weight": 600 }),
		...parts,
	];
	return `<svg xmlns="http://www.w3.org/2000/svg" ${size} role="img" font-family="system-ui, sans-serif" font-size="13" fill="${COLOURS.ink}">\n${all.join("\n")}\n</svg>\n`;
}
