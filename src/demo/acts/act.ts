import type { District } from "../district.js";
import type { DemoServices } from "../services.js";
import type { TimelineEvent } from "../timeline.js";

/** The next thing that people do without being asked: a household doses its water, somebody runs a generator. */
export interface Act {
	/** When it is done, epoch milliseconds. */
	readonly atMs: number;
	/** Does it, through the program's own services. @returns what is worth telling of it */
	do(): Promise<readonly TimelineEvent[]>;
}

/**
 * What goes on in the district by itself.
 * @returns the acts from one instant up to another, that one left out; called for stretches that follow on one another
 */
export type Acting = (fromMs: number, untilMs: number) => Promise<readonly Act[]> | readonly Act[];

/** Prepares what goes on: called once, before the first day. */
export type Acts = (services: DemoServices, district: District) => Acting;
