import { Worker } from "node:worker_threads";
import { costsOf } from "./costs.js";
import { noPrices } from "./prices.js";
import type { AssignmentProblem, AssignmentSolution } from "./problem.js";
import { nearestFirst } from "./room.js";
import { plainSolution } from "./solved.js";
import { AssignmentSolver, type SolveLimits, SolvingStopped } from "./solver.js";
import type { ThreadNews, ThreadTask } from "./solver-thread.js";

/** Time beside the limit in which the thread may start, and end by itself. */
const GRACE_MS = 5000;

/** Solves in a thread of its own, so that the program goes on answering meanwhile. */
export class ThreadSolver extends AssignmentSolver {
	private readonly running = new Set<Worker>();
	private isStopping = false;

	constructor(private readonly script: () => URL | string = () => new URL("./solver-thread.js", import.meta.url)) {
		super();
	}

	async solve(problem: AssignmentProblem, { timeLimitMs, signal }: SolveLimits): Promise<AssignmentSolution> {
		signal?.throwIfAborted();
		let soFar: AssignmentSolution | undefined;
		const worker = new Worker(this.script(), {
			workerData: { problem, timeLimitMs } satisfies ThreadTask,
			stdout: true,
			stderr: true,
		});
		worker.unref();
		this.running.add(worker);
		try {
			return await new Promise<AssignmentSolution>((resolve, reject) => {
				const instead = (remark: string) => resolve({ ...(soFar ?? plainly(problem)), by: "nearest first", remark });
				const late = setTimeout(() => instead("the optimiser didn't end in its time"), timeLimitMs + GRACE_MS);
				late.unref();
				signal?.addEventListener("abort", () => reject(signal.reason), { once: true });
				worker.on("message", ({ isLast, solution }: ThreadNews) => {
					soFar = solution;
					if (isLast) resolve(solution);
				});
				worker.once("error", (error) => instead(`the optimiser failed: ${(error as Error).message.slice(0, 200)}`));
				worker.once("exit", () => {
					clearTimeout(late);
					if (this.isStopping) reject(new SolvingStopped("the program stops"));
					else instead("the optimiser was stopped");
				});
			});
		} finally {
			this.running.delete(worker);
			await worker.terminate();
		}
	}

	/** Stops whatever is at work. */
	async onApplicationShutdown(): Promise<void> {
		this.isStopping = true;
		await Promise.all([...this.running].map((worker) => worker.terminate()));
	}
}

function plainly(problem: AssignmentProblem): AssignmentSolution {
	const costs = costsOf(problem);
	return plainSolution(costs, nearestFirst(costs, noPrices(costs.candidates)), "");
}
