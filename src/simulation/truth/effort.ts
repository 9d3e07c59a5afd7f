/**
 * Minutes that work takes the person who does it. Common practice throughout, no source, but the visit: `visitMinutes` of the rules of
 * assignment.
 */
export const EFFORT_MINUTES = {
	strengthTest: 20,
	waterCheck: 15,
	collecting: 60,
	makingARun: 60,
	counting: 3,
	discarding: 10,
	generatorCare: 30,
	otherTask: 10,
	message: 1,
} as const;
