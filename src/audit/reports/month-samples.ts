import { among } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Period } from "../coverage/period.js";
import type { SampleFindings } from "../sample/findings.js";
import type { Judged } from "../sample/judged.js";
import type { SamplePlan } from "../sample/plan.js";

/** An independent sample that was drawn within the month, with what its visits say so far. */
export interface MonthSample {
	readonly id: string;
	readonly areaCode: string;
	readonly areaName: string;
	readonly drawnAtMs: number;
	readonly frameHouseholds: number;
	readonly reportedFrom: string;
	readonly reportedTo: string;
	readonly plan: SamplePlan;
	readonly judged: Judged;
}

type Row = Omit<MonthSample, "plan" | "judged"> & { readonly plan: string };

/** @returns the samples that were drawn of the areas within a month, the first first */
export async function monthSamples(
	store: Store,
	findings: SampleFindings,
	areaIds: readonly string[],
	{ fromMs, untilMs }: Pick<Period, "fromMs" | "untilMs">,
): Promise<MonthSample[]> {
	const rows = await store.query<Row>(
		`SELECT s.id, a.code AS area_code, a.name AS area_name, s.drawn_at_ms, s.frame_households, s.reported_from, s.reported_to, s.plan
		 FROM audit_sample s JOIN area a ON a.id = s.area_id
		 WHERE s.area_id ${among(store.kind, "$1")} AND s.drawn_at_ms >= $2 AND s.drawn_at_ms < $3 ORDER BY s.drawn_at_ms, s.id`,
		[areaIds, fromMs, untilMs],
	);
	const samples: MonthSample[] = [];
	for (const { plan, drawnAtMs, ...row } of rows) {
		const judged = await findings.of(row.id);
		samples.push({ ...row, drawnAtMs: Number(drawnAtMs), plan: JSON.parse(plan) as SamplePlan, judged });
	}
	return samples;
}
