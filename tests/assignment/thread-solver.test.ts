import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { pathToFileURL } from "node:url";
import { solvedAssignment } from "../../src/assignment/solved.js";
import { SolvingStopped } from "../../src/assignment/solver.js";
import { ThreadSolver } from "../../src/assignment/thread-solver.js";
import { inventedProblem } from "../support/invented-places.js";

const FROM_SOURCE = join(__dirname, "../support/source-thread.cjs");
const FROM_BUILD = join(__dirname, "../../dist/src/assignment/solver-thread.js");

describe("a solver in a thread of its own", () => {
	it.each([
		["from the source", FROM_SOURCE],
		["from the build", pathToFileURL(FROM_BUILD)],
	])("gives the same answer as without a thread, %s", async (_, script) => {
		const problem = inventedProblem(120, 6, { terms: { changeKm: 0.5, unevenKm: 0.5 } });
		const told = await new ThreadSolver(() => script).solve(problem, { timeLimitMs: 20_000 });
		expect(told).toEqual(await solvedAssignment(problem, () => 20_000));
	});

	it("doesn't keep the program from answering: no turn of the event loop takes as much as a second, on a busy machine even", async () => {
		const problem = inventedProblem(800, 24, { roomShare: 1.1 });
		let turns = 0;
		let busyMs = 0;
		let before = performance.eventLoopUtilization();
		const timer = setInterval(() => {
			turns++;
			const now = performance.eventLoopUtilization();
			busyMs = Math.max(busyMs, performance.eventLoopUtilization(now, before).active);
			before = now;
		}, 5);
		const { remark } = await new ThreadSolver(() => FROM_SOURCE).solve(problem, { timeLimitMs: 80_000 });
		clearInterval(timer);
		expect(remark).toBeNull();
		expect(turns).toBeGreaterThan(10);
		expect(busyMs).toBeLessThan(1000);
	}, 90_000);

	it("is stopped at once by whoever asked", async () => {
		const stop = new AbortController();
		const solving = new ThreadSolver(() => FROM_SOURCE).solve(inventedProblem(2000, 60, { litres: true }), {
			timeLimitMs: 60_000,
			signal: stop.signal,
		});
		setTimeout(() => stop.abort(new Error("not wanted any more")), 50);
		const began = performance.now();
		await expect(solving).rejects.toThrow("not wanted any more");
		expect(performance.now() - began).toBeLessThan(5000);
	});

	it("falls back to nearest first where the optimiser fails, and says so", async () => {
		const folder = mkdtempSync(join(tmpdir(), "jarwatch-thread-"));
		const broken = join(folder, "broken.cjs");
		writeFileSync(broken, 'throw new Error("no memory left");');
		try {
			const problem = inventedProblem(60, 4);
			const { by, remark, chosen } = await new ThreadSolver(() => broken).solve(problem, { timeLimitMs: 10_000 });
			expect([by, remark]).toEqual(["nearest first", "the optimiser failed: no memory left"]);
			expect(chosen).toHaveLength(60);
			const load = (j: number) => chosen.filter((at) => at === j).length;
			for (const [j, { mostHouseholds }] of problem.candidates.entries()) expect(load(j)).toBeLessThanOrEqual(mostHouseholds);
		} finally {
			rmSync(folder, { recursive: true });
		}
	});

	it("is stopped when the program stops", async () => {
		const solver = new ThreadSolver(() => FROM_SOURCE);
		const solving = solver.solve(inventedProblem(2000, 60, { litres: true }), { timeLimitMs: 60_000 });
		const stopped = expect(solving).rejects.toThrow(SolvingStopped);
		await solver.onApplicationShutdown();
		await stopped;
	});
});
