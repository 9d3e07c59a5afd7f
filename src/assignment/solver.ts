import type { AssignmentProblem, AssignmentSolution } from "./problem.js";

export interface SolveLimits {
	/** After so long the best so far is told, with a remark; ms, 100 to 600 000. */
	readonly timeLimitMs: number;
	/** Stops it at once. */
	readonly signal?: AbortSignal;
}

/** The program stops: there is nobody left to tell. */
export class SolvingStopped extends Error {}

/** Finds the assignment that costs least. */
export abstract class AssignmentSolver {
	/**
	 * @returns the best assignment, or the best so far with a remark that says so; the optimiser's own failure too is a remark
	 * @throws the signal's reason where it was stopped; SolvingStopped where the program stops
	 */
	abstract solve(problem: AssignmentProblem, limits: SolveLimits): Promise<AssignmentSolution>;
}
