import type { PlaceMark } from "./place-marks.js";

/** An area as a point with what is shown of it. */
export interface MappedArea {
	readonly code: string;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
	/** 0 to 1; none: nothing was counted. */
	readonly share: number | null;
	/** What it was counted from. */
	readonly denominator: number;
}

/** @returns a dial for each area with its code and share beside it; the larger ones first, so that smaller ones lie above them */
export function areaMarks(areas: readonly MappedArea[], percent: (share: number) => string): PlaceMark[] {
	const most = Math.max(1, ...areas.map(({ denominator }) => denominator));
	return areas
		.toSorted((a, b) => b.denominator - a.denominator || (a.code < b.code ? -1 : 1))
		.map(({ code, latitudeDeg, longitudeDeg, share, denominator }) => ({
			...{ latitudeDeg, longitudeDeg, kind: "share", share },
			weight: denominator / most,
			label: share === null ? code : `${code} ${percent(share)}`,
		}));
}
