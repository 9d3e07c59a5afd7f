import { Html, html } from "./html.js";

/** Our own pictograms, each drawn in lines on 32 by 32; what is filled bears `f`, what is pale `p`. */
const DRAWN = {
	/** A jar with a lid, two thirds full. */
	jar: '<path d="M10 3h12v5H10zM8 12c0-2 2-4 2-4h12s2 2 2 4v15a2 2 0 0 1-2 2H10a2 2 0 0 1-2-2z"/><path class="p" d="M8 16h16v11a2 2 0 0 1-2 2H10a2 2 0 0 1-2-2z"/>',
	drop: '<path class="p" d="M16 3c5 7 9 11 9 16a9 9 0 0 1-18 0c0-5 4-9 9-16z"/>',
	/** A syringe that points down, with its marks. */
	syringe:
		'<path d="M11 3h10M16 3v5M9 8h14M11 8v14h10V8M14 22v3h4v-3M16 25v5"/><path class="p" d="M11 14h10v8H11z"/><path d="M11 12h4M11 16h4M11 19h4"/>',
	/** A screw cap that lies open like a cup. */
	cap: '<path class="p" d="M6 15h20l-2 11H8z"/><path d="M4 11h24v4H4zM12 19v4M16 19v4M20 19v4"/>',
	spoon: '<path class="p" d="M4 22a6 4 0 1 0 12 0 6 4 0 1 0-12 0z"/><path d="M15 20 28 7"/>',
	/** A test tube beside a scale of colours. */
	retest:
		'<path d="M5 4h10M7 4v19a3 3 0 0 0 6 0V4"/><path class="p" d="M7 14h6v9a3 3 0 0 1-6 0z"/><path d="M19 4h8v24h-8zM19 10h8M19 16h8M19 22h8"/><path class="f" d="M20 23h6v4h-6z"/>',
	/** A jar, tipped, that runs out. */
	discard:
		'<path d="m6 14 9-9 9 9-9 9z"/><path d="m4 12 5 5"/><path class="p" d="M21 19c3 3 5 5 5 7a3 3 0 0 1-6 0c0-2 0-4 1-7z"/><path d="M3 29h26"/>',
	gloves:
		'<path class="p" d="M9 29V18l-4-4 2-3 4 3V5a2 2 0 0 1 4 0v7V4a2 2 0 0 1 4 0v8-6a2 2 0 0 1 4 0v14c0 3-2 5-2 9z"/><path d="M8 25h14"/>',
	glasses:
		'<path class="p" d="M3 13h11v7a3 3 0 0 1-3 3H6a3 3 0 0 1-3-3zM18 13h11v7a3 3 0 0 1-3 3h-5a3 3 0 0 1-3-3z"/><path d="M14 15h4M3 13l3-5M29 13l-3-5"/>',
	sun: '<circle class="p" cx="16" cy="16" r="6"/><path d="M16 3v4M16 25v4M3 16h4M25 16h4M7 7l3 3M22 22l3 3M25 7l-3 3M10 22l-3 3"/>',
	/** A roof over a jar: out of the sun. */
	shade: '<path d="M3 14 16 4l13 10"/><path class="p" d="M12 18h8v11h-8z"/><path d="M13 15h6v3h-6z"/>',
	/** A bottle with drops, struck through. */
	noAcid: '<path d="M12 4h6v6l4 6v12H9V16l3-6z"/><path d="M13 21h6M16 18v6"/><path class="x" d="M4 4l24 24"/>',
	warn: '<path class="p" d="M16 4 30 28H2z"/><path class="w" d="M16 12v8M16 23v2"/>',
	wait: '<circle class="p" cx="16" cy="17" r="11"/><path d="M16 10v7l5 3M12 3h8"/>',
	stir: '<path class="p" d="M6 14h20l-2 15H8z"/><path d="M22 2l-6 22M10 20c3 3 8 3 12 0"/>',
	/** A vessel filled up to a mark. */
	fill: '<path d="M7 5v22a2 2 0 0 0 2 2h14a2 2 0 0 0 2-2V5"/><path class="p" d="M7 13h18v14a2 2 0 0 1-2 2H9a2 2 0 0 1-2-2z"/><path d="M20 9h5M20 13h5M20 17h5"/>',
	rinse: '<path d="M10 3h12M13 3v5h6V3"/><path class="p" d="M9 16h14v13H9z"/><path d="M12 11l-2 3M16 10v4M20 11l2 3"/>',
	clean:
		'<path d="M4 28 20 12M18 6l8 8-4 4-8-8z"/><path class="p" d="M22 18l4-4 3 5-4 3z"/><path d="M6 8h4M8 6v4M25 25h4M27 23v4"/>',
	carry: '<path class="p" d="M8 14h16v15H8z"/><path d="M11 14v-3a5 5 0 0 1 10 0v3M16 5V2M12 6l-2-2M20 6l2-2"/>',
	make: '<path d="M5 12h22v17H5z"/><path class="p" d="M5 18h22v11H5z"/><path class="f" d="M18 2l-7 11h5l-2 8 7-11h-5z"/>',
	battery: '<path class="p" d="M3 10h26v18H3z"/><path d="M7 10V6h5v4M20 10V6h5v4M8 18h5M19 18h6M22 15v6"/>',
	reagent:
		'<path class="p" d="M6 4h20v24H6z"/><path d="M6 10h20M6 22h20M9 4v3M13 4v3M17 4v3M21 4v3"/><circle cx="16" cy="16" r="3"/>',
	write: '<path class="p" d="M5 27l2-7L22 5l5 5-15 15z"/><path d="M19 8l5 5M5 29h22"/>',
	look: '<path class="p" d="M2 16c4-7 9-9 14-9s10 2 14 9c-4 7-9 9-14 9S6 23 2 16z"/><circle class="f" cx="16" cy="16" r="4"/>',
	people:
		'<circle class="p" cx="11" cy="9" r="5"/><path d="M2 28c0-7 4-10 9-10s9 3 9 10"/><circle cx="23" cy="11" r="4"/><path d="M23 19c4 0 7 3 7 9"/>',
	noChildren:
		'<circle cx="16" cy="8" r="4"/><path d="M16 12v9M9 15l7 1 7-1M16 21l-4 8M16 21l4 8"/><path class="x" d="M4 4l24 24"/>',
	noFlame:
		'<path class="p" d="M16 3c2 6 8 8 8 16a8 8 0 0 1-16 0c0-4 3-6 4-9 2 2 3 3 3 5 2-3 2-8 1-12z"/><path class="x" d="M4 4l24 24"/>',
	eyes: '<path d="M3 12c4-5 9-7 13-7s9 2 13 7c-4 5-9 7-13 7S7 17 3 12z"/><circle class="f" cx="16" cy="12" r="3"/><path class="p" d="M16 22c2 2 3 4 3 5a3 3 0 0 1-6 0c0-1 1-3 3-5z"/>',
	noDrink: '<path class="p" d="M8 8h16l-3 21H11z"/><path d="M8 8h16"/><path class="x" d="M4 4l24 24"/>',
	drink: '<path d="M8 4h16l-3 25H11z"/><path class="p" d="M9 12h14l-2 17H11z"/>',
	house: '<path class="p" d="M6 15v14h20V15"/><path d="M2 17 16 4l14 13M13 29v-8h6v8"/>',
	today: '<path class="p" d="M4 7h24v22H4z"/><path d="M4 13h24M10 3v7M22 3v7M10 21l4 4 8-8"/>',
	done: '<path class="p" d="M4 4h24v24H4z"/><path class="w" d="M9 16l5 6 10-12"/>',
	later: '<path class="p" d="M4 7h24v22H4z"/><path d="M4 13h24M10 3v7M22 3v7M10 21h10M16 17l5 4-5 4"/>',
	cannot: '<circle class="p" cx="16" cy="16" r="12"/><path class="w" d="M11 11l10 10M21 11 11 21"/>',
	phone: '<path class="p" d="M9 2h14v28H9z"/><path d="M9 7h14M9 24h14M15 27h2"/>',
	clear: '<path d="M6 5h20l-3 24H9z"/><path d="M7 12h18M13 18h1M18 22h1"/>',
	cloudy:
		'<path class="p" d="M6 5h20l-3 24H9z"/><path d="M7 12h18"/><circle class="f" cx="13" cy="17" r="1.5"/><circle class="f" cx="19" cy="19" r="1.5"/><circle class="f" cx="14" cy="24" r="1.5"/><circle class="f" cx="18" cy="14.500" r="1"/>',
} as const;

export type PictureName = keyof typeof DRAWN;

/**
 * @param label what it says to whoever doesn't see it; left out: the words beside it say it
 * @returns a pictogram, drawn by the sheet of the page
 */
export function picture(name: PictureName, label?: string): Html {
	return label === undefined
		? html`<svg class="pic" aria-hidden="true"><use href="#p-${name}"/></svg>`
		: html`<svg class="pic" role="img" aria-label="${label}"><use href="#p-${name}"/></svg>`;
}

/** @returns the drawings that a page uses, each once, and no others */
export function pictureSheet(body: Html): Html {
	const used = new Set([...body.text.matchAll(/href="#p-(\w+)"/g)].map(([, name]) => name as PictureName));
	const symbols = [...used].map((name) => `<symbol id="p-${name}" viewBox="0 0 32 32">${DRAWN[name]}</symbol>`);
	return new Html(`<svg class="sheet" aria-hidden="true">${symbols.join("")}</svg>`);
}
