import { parentPort, workerData } from "node:worker_threads";
import type { AssignmentProblem, AssignmentSolution } from "./problem.js";
import { solvedAssignment } from "./solved.js";

/** What the thread is started with. */
export interface ThreadTask {
	readonly problem: AssignmentProblem;
	readonly timeLimitMs: number;
}

/** What it tells: a plain assignment at once, the best at the end. */
export interface ThreadNews {
	readonly isLast: boolean;
	readonly solution: AssignmentSolution;
}

const { problem, timeLimitMs } = workerData as ThreadTask;
const until = performance.now() + timeLimitMs;
const tell = (isLast: boolean) => (solution: AssignmentSolution) =>
	parentPort?.postMessage({ isLast, solution } satisfies ThreadNews);
// A failure ends the thread with an error, which whoever started it is told of.
void solvedAssignment(problem, () => until - performance.now(), tell(false)).then(tell(true));
