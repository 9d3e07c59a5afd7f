// The part of the package that the tests use. It publishes its sources, which our stricter compiler settings would refuse.
export class Solver {
	constructor(equations: number);
	absoluteTolerance: number;
	relativeTolerance: number;
	maxSteps: number;
	solve(slope: (x: number, y: number[]) => number[], from: number, start: number[], until: number): { y: number[] };
}
