/**
 * @param persons of the household
 * @param litresPerPerson the programme's limit
 * @returns L that the largest container of a household holds
 */
export const mostContainerL = (persons: number, litresPerPerson: number): number => persons * litresPerPerson;

/** What is said of a larger one. */
export const tooLarge = (persons: number, mostL: number): string =>
	`must be at most ${mostL} (litres) in a household of ${persons}; is it in millilitres, or another household's?`;
