import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Log } from "../log/log.js";
import { currentPolicy } from "../programme/policy.js";
import { rounded } from "../science/rounded.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { areaNamed, assertStandsOver } from "./people.js";
import { type AssignmentProblem, type AssignmentSolution, MOST_PAIRS } from "./problem.js";
import { type Figures, figuresOf, type Load, loadsOf, remedyFor } from "./proposal-figures.js";
import { writeLines } from "./proposal-lines.js";
import type { ProposalState } from "./rows.js";
import { problemOf, type Scope } from "./scope.js";
import { type AssignmentSolver, SolvingStopped } from "./solver.js";

/** How a proposal was found and what it would change. */
export interface ProposalSummary {
	readonly by: AssignmentSolution["by"];
	/** Why it isn't proven to be the best; none where it is. */
	readonly remark: string | null;
	/** Distances, changes, languages and uneven loads together, km; what is left over isn't in it. */
	readonly costKm: number;
	/** No assignment costs less. */
	readonly boundKm: number;
	readonly today: Figures;
	readonly proposed: Figures;
	readonly loads: readonly Load[];
	readonly leftOver: number;
	/** What would make room for those that are left over. */
	readonly remedy: string | null;
}

export interface Proposal {
	readonly id: string;
	readonly areaId: string;
	readonly absenceId: string | null;
	readonly state: ProposalState;
	readonly version: number;
	readonly askedAtMs: number;
	readonly deadlineMs: number;
	readonly closedAtMs: number | null;
	readonly restToId: string | null;
	readonly summary: ProposalSummary | null;
}

/** A proposal that is asked for: its id at once, and its end for whoever waits for it. */
export interface Asked {
	readonly id: string;
	readonly settled: Promise<void>;
}

/** A process that solves tells within this beside its time; after that it isn't there any more. */
const GRACE_MS = 60_000;

/** Proposals of who looks after whom: asked for, solved beside everything else, kept until somebody decides. */
export class Proposals {
	private readonly solving = new Map<string, AbortController>();

	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly solver: AssignmentSolver,
		private readonly log: Pick<Log, "error">,
	) {}

	/**
	 * Asks for a proposal for an area and those below it.
	 * @throws InputError `unknown-area`, `not-allowed` (a supervisor of another area), `too-large` (422)
	 */
	async ask(areaCode: string, byCode?: string): Promise<Asked> {
		const area = await areaNamed(this.store, areaCode, "/areaCode");
		const actor = byCode ? await assertStandsOver(this.store, byCode, [area.id], "/byPersonCode") : "office";
		return this.begin({ areaId: area.id, awayId: null }, { actor, absenceId: null });
	}

	/** Asks who takes over the households of a volunteer who is away, among the others of an area. */
	async begin(scope: Scope, { actor, absenceId }: { readonly actor: string; readonly absenceId: string | null }): Promise<Asked> {
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(this.store);
		const problem = await problemOf(this.store, scope, policy, nowMs);
		const pairs = problem.households.length * problem.candidates.length;
		if (pairs > MOST_PAIRS)
			throw new InputError(
				"too-large",
				`${problem.households.length} households by ${problem.candidates.length} volunteers are ${pairs} pairs; one proposal takes ${MOST_PAIRS}. Ask for the areas below one by one.`,
			);
		const id = this.ids.next();
		const timeLimitMs = policy.assignment.solveSeconds * 1000;
		const { promise: settled, resolve } = deferred();
		await this.store.work.run(async (tx) => {
			await tx.affected(
				`INSERT INTO assignment_proposal (id, area_id, absence_id, state, version, asked_at_ms, deadline_ms) VALUES ($1, $2, $3, 'solving', 1, $4, $5)`,
				[id, scope.areaId, absenceId, nowMs, nowMs + timeLimitMs + GRACE_MS],
			);
			await this.tell(tx, id, scope.areaId, actor, "assignment asked for", { households: problem.households.length });
			// Only once it is kept: whoever asked may be part of a larger unit of work.
			tx.afterCommit(() => {
				const stop = new AbortController();
				this.solving.set(id, stop);
				this.solved(id, scope, problem, timeLimitMs, stop.signal)
					// Nobody may be waiting for it; it counts as stopped once its time is over.
					.catch((err: unknown) => this.log.error({ err, proposal: id }, "a proposal couldn't be solved"))
					.finally(() => this.solving.delete(id))
					.then(resolve, resolve);
			});
		});
		return { id, settled };
	}

	/**
	 * Stops the solving of a proposal, or turns an open one down.
	 * @throws InputError `unknown-subject` (404), `conflict` (409) where it is closed already
	 */
	async reject(id: string, actor = "office"): Promise<void> {
		const { state, areaId } = await this.named(id);
		await this.store.work.run(async (tx) => {
			const closed = await tx.affected(
				`UPDATE assignment_proposal SET state = $2, version = version + 1, closed_at_ms = $3 WHERE id = $1 AND state IN ('solving', 'open')`,
				[id, state === "solving" ? "stopped" : "rejected", this.clock.nowMs()],
			);
			if (closed === 0) throw closedAlready(state);
			await this.tell(tx, id, areaId, actor, "assignment rejected", {});
		});
		this.solving.get(id)?.abort(new InputError("conflict", "The proposal was stopped.", { status: 409 }));
	}

	/** @throws InputError `unknown-subject` (404) */
	async named(id: string): Promise<Proposal> {
		return proposalIn(this.store, id, this.clock.nowMs());
	}

	private async solved(
		id: string,
		scope: Scope,
		problem: AssignmentProblem,
		timeLimitMs: number,
		signal: AbortSignal,
	): Promise<void> {
		let solution: AssignmentSolution;
		try {
			solution = await this.solver.solve(problem, { timeLimitMs, signal });
		} catch (error) {
			if (signal.aborted || error instanceof SolvingStopped) return;
			throw error;
		}
		const chosen = solution.chosen.map((j) => problem.candidates[j]?.id ?? null);
		const summary = summaryOf(problem, solution, chosen);
		await this.store.work.run(async (tx) => {
			const restToId = scope.awayId === null ? null : mostlyTo(chosen, problem);
			const kept = await tx.affected(
				`UPDATE assignment_proposal SET state = 'open', version = version + 1, summary = $2, rest_to_id = $3 WHERE id = $1 AND state = 'solving'`,
				[id, JSON.stringify(summary), restToId],
			);
			if (kept === 0) return;
			await writeLines(tx, id, problem, chosen, scope.awayId);
			await this.tell(tx, id, scope.areaId, "optimiser", "assignment proposed", {
				by: summary.by,
				moves: summary.proposed.moves,
				leftOver: summary.leftOver,
			});
		});
	}

	private tell(
		tx: Transaction,
		id: string,
		areaId: string,
		actor: string,
		action: string,
		detail: Record<string, unknown>,
	): Promise<void> {
		return record(tx, this.ids, [
			{ atMs: this.clock.nowMs(), actor, action, subjectKind: "assignment proposal", subjectId: id, areaId, detail },
		]);
	}
}

/** @throws InputError `unknown-subject` (404) */
export async function proposalIn(from: Pick<Transaction, "query">, id: string, nowMs: number): Promise<Proposal> {
	const [row] = await from.query<Omit<Proposal, "summary"> & { summary: string | null }>(
		`SELECT id, area_id, absence_id, state, version, asked_at_ms, deadline_ms, closed_at_ms, rest_to_id, summary FROM assignment_proposal WHERE id = $1`,
		[id],
	);
	if (!row) throw new InputError("unknown-subject", "There is no proposal with this id.", { status: 404 });
	// Whoever was solving it stopped without a word.
	const state = row.state === "solving" && nowMs > row.deadlineMs ? "stopped" : row.state;
	return { ...row, state, summary: row.summary === null ? null : (JSON.parse(row.summary) as ProposalSummary) };
}

export function closedAlready(state: ProposalState): InputError {
	const said = state === "solving" ? "is still being solved" : `is ${state} already`;
	return new InputError("conflict", `The proposal ${said}; nothing was changed.`, { status: 409 });
}

function summaryOf(
	problem: AssignmentProblem,
	solution: AssignmentSolution,
	chosen: readonly (string | null)[],
): ProposalSummary {
	const leftOver = chosen.filter((id) => id === null).length;
	const leftOverKm = solution.leftOverKm * leftOver;
	return {
		by: solution.by,
		remark: solution.remark,
		costKm: rounded(solution.costKm - leftOverKm, 2),
		boundKm: rounded(Math.max(0, solution.boundKm - leftOverKm), 2),
		today: figuresOf(
			problem,
			problem.households.map(({ todayId }) => todayId),
		),
		proposed: figuresOf(problem, chosen),
		loads: loadsOf(problem, chosen),
		leftOver,
		remedy: remedyFor(problem, leftOver),
	};
}

/** Who gets most of an absent volunteer's households gets what belongs to none of them too; where she had none, whoever has most room. */
function mostlyTo(chosen: readonly (string | null)[], { candidates }: AssignmentProblem): string | null {
	const count = new Map<string, number>();
	for (const id of chosen) if (id !== null) count.set(id, (count.get(id) ?? 0) + 1);
	const [most] = [...count].sort((a, b) => b[1] - a[1]);
	return most?.[0] ?? candidates.toSorted((a, b) => b.mostHouseholds - a.mostHouseholds)[0]?.id ?? null;
}

function deferred(): { readonly promise: Promise<void>; readonly resolve: () => void } {
	let resolve: () => void = () => undefined;
	const promise = new Promise<void>((done) => {
		resolve = done;
	});
	return { promise, resolve };
}
