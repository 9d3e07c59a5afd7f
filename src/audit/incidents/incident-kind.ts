import type { TextName } from "../../messages/text-names.js";
import type { Policy } from "../../programme/policy.js";
import type { Transaction } from "../../store/unit-of-work.js";

export type Reader = Pick<Transaction, "query" | "kind">;

/** What a record gives rise to. */
export interface Cause {
	/** Of the record. */
	readonly causeId: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly happenedAtMs: number;
	readonly found: Readonly<Record<string, string | number | null>>;
}

/** An incident that isn't closed. */
export interface OpenIncident {
	readonly id: string;
	readonly causeId: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly happenedAtMs: number;
	readonly openedAtMs: number;
	readonly found: Readonly<Record<string, string | number | null>>;
}

/** What came in since leaves nothing to be done. */
export interface Evidence {
	readonly id: string;
	readonly because: string;
}

/** Something that happened, on the time line of an incident. */
export interface Fact {
	/** Of the record; what was told because of it bears it in its key. */
	readonly id: string;
	readonly atMs: number;
	/** In a few words of the trade. */
	readonly what: string;
	readonly detail: Readonly<Record<string, string | number | null>>;
}

/** Which records are looked through. */
export interface Window {
	/** Records that were written since; earlier ones were looked at before. */
	readonly sinceMs: number;
	readonly nowMs: number;
	readonly policy: Policy;
}

/** One kind of failure: how it is seen in the records, what settles it, and what belongs on its time line. */
export abstract class IncidentKind {
	/** Kept in rows: never changed once released. */
	abstract readonly name: string;
	/** What it is, in a sentence for whoever reads a report. */
	abstract readonly words: string;
	abstract readonly subjectKind: string;
	/** Says in a few words what it is; filled with `about`. */
	abstract readonly text: TextName;

	/** @returns what has happened since; what was told before may be among it */
	abstract causes(from: Reader, window: Window): Promise<readonly Cause[]>;

	/** @returns those of the open ones that need nothing more */
	abstract settled(from: Reader, open: readonly OpenIncident[], window: Window): Promise<readonly Evidence[]>;

	/** @returns what happened, in any order, and whose tasks belong to it */
	abstract story(
		from: Reader,
		incident: OpenIncident,
	): Promise<{ readonly facts: readonly Fact[]; readonly taskSubjectIds: readonly string[] }>;
}
