import { firstIdAt } from "../../../time/ids.js";
import {
	type Cause,
	type Evidence,
	type Fact,
	IncidentKind,
	type OpenIncident,
	type Reader,
	type Window,
} from "../incident-kind.js";
import { waterFacts } from "./unfit-water.js";

interface Weak {
	readonly id: string;
	readonly batchId: string;
	readonly areaId: string;
	readonly jar: string;
	readonly testedAtMs: number;
	readonly highGPerL: number;
	readonly sinceMs: number;
	readonly doses: number;
	readonly firstMs: number | null;
}

/** Water was dosed from a jar that a test found under strength: since the last test before it that found it strong enough. */
export class WeakBleach extends IncidentKind {
	readonly name = "weak bleach used";
	readonly words = "Water was dosed from a jar that a test then found under strength.";
	readonly subjectKind = "batch";
	readonly text = "incident.weakBleach";

	async causes(from: Reader, { sinceMs, policy: { usableLimitGPerL } }: Window): Promise<Cause[]> {
		const since = firstIdAt(sinceMs);
		const rows = await from.query<Weak>(
			`SELECT w.*, (SELECT count(*) FROM dose d WHERE d.batch_id = w.batch_id AND d.dosed_at_ms >= w.since_ms) AS doses,
			        (SELECT min(d.dosed_at_ms) FROM dose d WHERE d.batch_id = w.batch_id AND d.dosed_at_ms >= w.since_ms) AS first_ms
			 FROM (SELECT t.id, t.batch_id, b.area_id, b.code AS jar, t.tested_at_ms, t.high_g_per_l,
			   COALESCE((SELECT max(g.tested_at_ms) FROM strength_test g WHERE g.batch_id = t.batch_id AND g.tested_at_ms < t.tested_at_ms
			     AND (g.high_g_per_l IS NULL OR g.high_g_per_l >= $2)), b.made_at_ms) AS since_ms
			 FROM strength_test t JOIN batch b ON b.id = t.batch_id
			 WHERE t.id IN (SELECT id FROM strength_test WHERE id >= $1 AND high_g_per_l < $2
			   UNION SELECT s.id FROM dose n JOIN strength_test s ON s.batch_id = n.batch_id WHERE n.id >= $1 AND s.high_g_per_l < $2)) w
			 ORDER BY w.tested_at_ms, w.id`,
			[since, usableLimitGPerL],
		);
		return rows
			.filter(({ doses }) => Number(doses) > 0)
			.map((row) => ({
				causeId: row.id,
				subjectId: row.batchId,
				areaId: row.areaId,
				happenedAtMs: row.firstMs ?? row.testedAtMs,
				found: {
					about: row.jar,
					doses: Number(row.doses),
					strengthAtMostGPerL: row.highGPerL,
					limitGPerL: usableLimitGPerL,
					foundAtMs: row.testedAtMs,
				},
			}));
	}

	/** Nobody doses from it any more, and what was dosed has been poured away, dosed anew, or read and found fit. */
	async settled(from: Reader, open: readonly OpenIncident[]): Promise<Evidence[]> {
		const settled: Evidence[] = [];
		for (const { id, subjectId, happenedAtMs } of open) {
			const [left] = await from.query<{ n: number }>(
				`SELECT count(*) AS n FROM batch b WHERE b.id = $1 AND (b.state = 'in use' OR EXISTS (
				   SELECT 1 FROM dose d WHERE d.batch_id = b.id AND d.dosed_at_ms >= $2 AND d.ended_at_ms IS NULL
				     AND NOT EXISTS (SELECT 1 FROM dose n WHERE n.container_id = d.container_id AND n.dosed_at_ms > d.dosed_at_ms AND n.batch_id <> b.id)
				     AND NOT EXISTS (SELECT 1 FROM residual_check r WHERE r.container_id = d.container_id AND r.fit_to_drink AND r.checked_at_ms > d.dosed_at_ms)))`,
				[subjectId, happenedAtMs],
			);
			if (Number(left?.n) === 0)
				settled.push({
					id,
					because: "the jar is out of use, and all water dosed from it was dosed anew, poured away or read and found fit",
				});
		}
		return settled;
	}

	async story(from: Reader, { subjectId, happenedAtMs }: OpenIncident) {
		const tests = await from.query<{
			id: string;
			testedAtMs: number;
			lowGPerL: number;
			highGPerL: number | null;
			reading: string;
		}>(
			"SELECT id, tested_at_ms, low_g_per_l, high_g_per_l, reading FROM strength_test WHERE batch_id = $1 ORDER BY tested_at_ms, id",
			[subjectId],
		);
		const containers = await from.query<{ id: string }>(
			"SELECT DISTINCT container_id AS id FROM dose WHERE batch_id = $1 AND dosed_at_ms >= $2",
			[subjectId, happenedAtMs],
		);
		const ids = containers.map(({ id }) => id);
		const facts: Fact[] = tests.map(({ id, testedAtMs, lowGPerL, highGPerL, reading }) => ({
			id,
			atMs: testedAtMs,
			what: "jar tested",
			detail: { reading, lowGPerL, highGPerL },
		}));
		return { facts: [...facts, ...(await waterFacts(from, ids, happenedAtMs))], taskSubjectIds: [subjectId, ...ids] };
	}
}
