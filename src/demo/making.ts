import type { AreaRow } from "../programme/rows.js";
import type { DaysBefore } from "./days.js";
import type { StrengthAt } from "./truth.js";

/** What strengths are looked up with. */
export interface Knowing {
	readonly start: number;
	/** By their ids. */
	readonly areas: ReadonlyMap<string, AreaRow>;
	readonly strengthAt: StrengthAt;
}

/** What the records are made with. */
export interface Making extends Knowing {
	readonly startAtMs: number;
	readonly days: DaysBefore;
	/** @returns an id that sorts by the instant of the record */
	readonly newId: (atMs: number) => string;
}
