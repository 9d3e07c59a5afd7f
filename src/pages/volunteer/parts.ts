import type { DutyKinds } from "../../duties/kinds.js";
import type { PageAnswers } from "../../duties/page-answers.js";
import type { Rounds } from "../../duties/rounds.js";
import type { Calendars } from "../../stock/places.js";
import type { Store } from "../../store/store.js";

/** What a volunteer's pages are made of. */
export interface VolunteerParts {
	readonly store: Store;
	readonly kinds: DutyKinds;
	readonly rounds: Rounds;
	readonly calendars: Calendars;
	readonly answers: PageAnswers;
	/** Makes the key that an answer bears, so that it counts once. */
	readonly newKey: () => string;
}
