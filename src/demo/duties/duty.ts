import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import type { District } from "../district.js";
import type { TimelineEvent } from "../timeline.js";
import type { Asked, Reply } from "../volunteers.js";

/** What a simulated person sees of the program and of the district. */
export interface Seen {
	readonly store: Store;
	readonly clock: Clock;
	readonly district: District;
}

export interface DemoTask {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly subjectId: string;
	readonly brief: Readonly<Record<string, string | number>>;
}

/** How the district's people take one kind of due work. */
export interface DemoDuty {
	/** Name of the kind of due work. */
	readonly kind: string;
	/** @returns what a task asks of a person; none where nobody here can answer it */
	asked(task: DemoTask, seen: Seen): Promise<Asked | undefined>;
	/** Looks before an answer is taken. @returns what tells, once it has been accepted, what changed by it */
	beforeAnswer?(task: DemoTask, seen: Seen): Promise<(reply: Reply) => Promise<TimelineEvent | undefined>>;
}
