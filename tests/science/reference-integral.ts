import { Solver } from "odex";

/** End value of dy/dx = slope(x, y) by a general-purpose integrator (Hairer & Wanner's extrapolation code), to 1e-10. */
export function referenceEnd(slope: (x: number, y: number) => number, start: number, until: number): number {
	if (until === 0) return start;
	const solver = new Solver(1);
	solver.absoluteTolerance = 1e-12;
	solver.relativeTolerance = 1e-10;
	solver.maxSteps = 100_000;
	return solver.solve((x, y) => [slope(x, y[0]!)], 0, [start], until).y[0]!;
}
