import { z } from "zod";

/** How a programme treats what it holds about people. The times are own choices: long enough for a year's audit, no longer. */
export const personalRules = z.strictObject({
	/** Nothing is sent to a person before she has consented to messages. */
	consentBeforeMessages: z.boolean().default(false),
	/** After so many days the words of a text that came in, and where it came from, are cleared; what became of it stays. */
	keepTextsDays: z.int().min(2).max(3650).default(365),
	/** After so many days names in messages that went, and what channels said of them, are cleared; what went when stays. */
	keepMessagesDays: z.int().min(7).max(3650).default(365),
	/** So many days after somebody has left for good she is erased. */
	keepLeftDays: z.int().min(1).max(3650).default(730),
});
