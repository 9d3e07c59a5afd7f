import { currentPolicy } from "../../programme/policy.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import { guideline } from "../../water/protocol/guideline.js";
import { periodOf } from "../coverage/period.js";
import { COUNTS } from "../coverage/subjects/read-households.js";
import { type Judged, judged, type VisitFacts } from "./judged.js";
import type { Samples } from "./samples.js";

type Row = Omit<VisitFacts, "treated" | "containerSeen"> & {
	readonly treated: boolean | number | null;
	readonly containerSeen: boolean | number | null;
};

const flag = (value: boolean | number | null): boolean | null => (value === null ? null : Boolean(value));

/** What a sample says: judged, estimated, and held against what volunteers had reported. */
export class SampleFindings {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly samples: Samples,
	) {}

	/** @throws InputError `unknown-subject` (404) */
	async of(sampleId: string): Promise<Judged> {
		const { plan, reportedFrom, reportedTo, timeZone } = await this.samples.named(sampleId);
		const { water } = await currentPolicy(this.store);
		const { fromMs, untilMs } = periodOf({ from: reportedFrom, to: reportedTo }, timeZone, this.clock.nowMs());
		const rows = await this.store.query<Row>(
			`SELECT v.cluster, r.outcome, r.free_chlorine_mg_per_l, r.treated, r.container_seen,
			  (SELECT c.free_chlorine_mg_per_l FROM residual_check c JOIN container k ON k.id = c.container_id
			   WHERE k.household_id = v.household_id AND c.checked_at_ms >= ${fromMs} AND c.checked_at_ms < ${untilMs} AND ${COUNTS("c")}
			   ORDER BY c.checked_at_ms DESC, c.id DESC LIMIT 1) AS reported_mg_per_l
			 FROM audit_visit v LEFT JOIN audit_result r ON r.id = ${LAST_RESULT} WHERE v.sample_id = $1 ORDER BY v.place`,
			[sampleId],
		);
		const visits = rows.map((row) => ({ ...row, treated: flag(row.treated), containerSeen: flag(row.containerSeen) }));
		return judged(plan, visits, { leastMgPerL: water.leastAtUseMgPerL, mostMgPerL: guideline.mostMgPerL });
	}
}

/** Of a visit `v`: the last one corrects those before it. */
export const LAST_RESULT =
	"(SELECT last.id FROM audit_result last WHERE last.visit_id = v.id ORDER BY last.recorded_at_ms DESC, last.id DESC LIMIT 1)";
