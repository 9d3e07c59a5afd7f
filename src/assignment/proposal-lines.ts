import { distanceKm } from "../science/visit-times.js";
import { valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { AssignmentProblem } from "./problem.js";

/** Writes a line for each household of a proposal. @param chosen by the order of the households */
export async function writeLines(
	tx: Transaction,
	proposalId: string,
	problem: AssignmentProblem,
	chosen: readonly (string | null)[],
	awayId: string | null,
): Promise<void> {
	const places = new Map(problem.candidates.map((candidate) => [candidate.id, candidate]));
	const km = (i: number, id: string | null) => {
		const [household, place] = [problem.households[i], places.get(id ?? "")];
		return household && place ? Math.round(distanceKm(household, place) * 100) / 100 : null;
	};
	const lines = problem.households.map(({ id, todayId }, i) => {
		const to = chosen[i] ?? null;
		return [proposalId, id, todayId ?? awayId, to, km(i, todayId), km(i, to), to === null ? "left over" : "proposed"];
	});
	for (let from = 0; from < lines.length; from += 400) {
		const { text, parameters } = valuesOf(lines.slice(from, from + 400));
		await tx.affected(
			`INSERT INTO assignment_proposal_line (proposal_id, household_id, from_id, to_id, from_km, to_km, state) VALUES ${text}`,
			parameters,
		);
	}
}
