/** What a phone of 360 px leaves a picture between the margins of a page, px. */
const ON_A_PHONE_PX = 328;
/** Letters are at least so high there, px; common practice, no source. */
const LEAST_PX = 12;

/** @returns height of letters, in units of a drawing of this width, that a phone still shows large enough to be read; rounded up to a tenth */
export function lettersOn(width: number): number {
	return Math.ceil(((LEAST_PX * width) / ON_A_PHONE_PX) * 10) / 10;
}

/** Of the height of letters: as wide as letters of usual faces are on average, wide ones among them. */
const WIDE = { usual: 0.6, heavy: 0.66 } as const;

/** @returns how wide words become at most, in the unit of `letters` */
export function widthOf(text: string, letters: number, weight: keyof typeof WIDE = "usual"): number {
	return text.length * letters * WIDE[weight];
}
