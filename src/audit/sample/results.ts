import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import { refuseFuture } from "../../time/future.js";
import type { Ids } from "../../time/ids.js";
import type { VisitOutcome } from "./rows.js";

/** What an auditor found at a household. */
export interface FoundAtVisit {
	readonly outcome: VisitOutcome;
	readonly visitedAtMs: number;
	readonly byPersonCode: string;
	/** Only of a household that was seen; what could not be told is left out. */
	readonly freeChlorineMgPerL?: number | undefined;
	readonly treated?: boolean | undefined;
	readonly containerSeen?: boolean | undefined;
	/** Needed where it corrects what is on file. */
	readonly because?: string | undefined;
}

interface Visit {
	readonly id: string;
	readonly volunteerId: string | null;
	readonly areaId: string;
	readonly drawnAtMs: number;
	readonly results: number;
}

/** What auditors found: kept, and corrected by adding. */
export class AuditResults {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/**
	 * @throws InputError `unknown-subject`, `time-in-future`, `invalid-input` (she looks after the household herself among others),
	 *   `conflict` (409) where a result is on file and nobody says why it is corrected
	 */
	record(sampleId: string, householdCode: string, found: FoundAtVisit): Promise<void> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const [visit] = await tx.query<Visit>(
				`SELECT v.id, h.volunteer_id, h.area_id, s.drawn_at_ms, (SELECT COUNT(*) FROM audit_result r WHERE r.visit_id = v.id) AS results
				 FROM audit_visit v JOIN household h ON h.id = v.household_id JOIN audit_sample s ON s.id = v.sample_id
				 WHERE v.sample_id = $1 AND h.code = $2`,
				[sampleId, householdCode],
			);
			if (!visit)
				throw new InputError("unknown-subject", "This sample has no visit to a household of that code.", { status: 404 });
			const [auditor] = await tx.query<{ id: string }>("SELECT id FROM person WHERE code = $1", [found.byPersonCode]);
			if (!auditor)
				throw new InputError("unknown-subject", "There is no person with this code.", {
					problems: [{ at: "/byPersonCode", message: "names nobody" }],
				});
			if (auditor.id === visit.volunteerId)
				throw new InputError("invalid-input", "Who looks after a household doesn't audit it.", {
					problems: [{ at: "/byPersonCode", message: "must be somebody other than the household's volunteer" }],
				});
			refuseFuture(found.visitedAtMs, nowMs, "/visitedAt");
			refuseOdd(found, visit);
			const { outcome, visitedAtMs, freeChlorineMgPerL = null, treated = null, containerSeen = null, because = null } = found;
			await tx.insert(
				"audit_result",
				[
					"id",
					"visit_id",
					"outcome",
					"visited_at_ms",
					"recorded_at_ms",
					"by_person_id",
					"free_chlorine_mg_per_l",
					"treated",
					"container_seen",
					"because",
				],
				[
					[
						this.ids.next(),
						visit.id,
						outcome,
						visitedAtMs,
						nowMs,
						auditor.id,
						freeChlorineMgPerL,
						treated,
						containerSeen,
						because,
					],
				],
			);
			const detail = { sampleId, household: householdCode, outcome, freeChlorineMgPerL, treated, containerSeen, because };
			await record(tx, this.ids, [
				{
					...{ atMs: nowMs, actor: auditor.id, action: Number(visit.results) > 0 ? "audit corrected" : "audit recorded" },
					...{ subjectKind: "audit visit", subjectId: visit.id, areaId: visit.areaId, detail },
				},
			]);
		});
	}
}

function refuseOdd(found: FoundAtVisit, visit: Visit): void {
	if (found.visitedAtMs < Number(visit.drawnAtMs))
		throw new InputError("invalid-input", "The visit was before the sample was drawn.", {
			problems: [{ at: "/visitedAt", message: `must not be before ${new Date(Number(visit.drawnAtMs)).toISOString()}` }],
		});
	const told = (["freeChlorineMgPerL", "treated", "containerSeen"] as const).filter((name) => found[name] !== undefined);
	if (found.outcome !== "seen" && told.length > 0)
		throw new InputError("invalid-input", `Nothing can be told of a household that was ${found.outcome}.`, {
			problems: told.map((name) => ({ at: `/${name}`, message: 'must be left out unless outcome is "seen"' })),
		});
	if (Number(visit.results) > 0 && !found.because)
		throw new InputError("conflict", "What was found at this household is on file; say why it is corrected.", {
			status: 409,
			problems: [{ at: "/because", message: "must say why, in a few words" }],
		});
}
