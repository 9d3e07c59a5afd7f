import { valuesOf } from "../../src/store/sql.js";
import type { Store } from "../../src/store/store.js";
import { WARM } from "./world.js";

/** A forecast as it is kept with a jar, as far as opening a task reads it. */
const FORECAST = JSON.stringify({
	now: { atMs: 0, medianGPerL: 4.4, lowGPerL: 3.5, highGPerL: 5.2, chanceUnderLimit: 0.05 },
	atRetest: { atMs: 0, medianGPerL: 4.4, lowGPerL: 3.5, highGPerL: 5.2, chanceUnderLimit: 0.05 },
	retestReason: "chancePassesTolerance",
	nextDilution: { sampleMl: 1, madeUpToL: 2 },
});

const KIND = "retest stored bleach";

/**
 * Puts an area, volunteers who may be written to at any hour, and jars on file by plain statements: `jar0`, `jar1`...
 * @param dueAtMs when each becomes due; none: not yet
 */
export async function putJars(
	store: Store,
	count: number,
	dueAtMs: (jar: number) => number | null,
	volunteers = 20,
): Promise<void> {
	await store.work.run(async (tx) => {
		await tx.query(
			`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate) VALUES ('area', 'A1', 'Invented', 'UTC', 0, 0, 0, $1)`,
			[JSON.stringify(WARM)],
		);
		// Each reminder by itself: what is counted is messages.
		await tx.query("INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented', $1, 0)", [
			JSON.stringify({ messages: { together: false, segmentsPerPersonDay: 10_000 } }),
		]);
		for (let v = 0; v < volunteers; v++)
			await tx.query(
				`INSERT INTO person (id, code, role, name, phone_e164, language, area_id, working_days, quiet_from, quiet_until, channels, active)
				 VALUES ($1, $1, 'volunteer', '', $2, 'en', 'area', '[1,2,3,4,5,6,7]', '00:00', '00:00', '[]', $3)`,
				[`vol${v}`, `+4477009${String(v).padStart(5, "0")}`, true],
			);
	});
	for (let from = 0; from < count; from += 1000) {
		const jars = Array.from({ length: Math.min(1000, count - from) }, (_, i) => from + i);
		await store.work.run(async (tx) => {
			const batches = valuesOf(
				jars.map((n) => [
					...[`jar${String(n).padStart(7, "0")}`, `J${n}`, "area", `vol${n % volunteers}`],
					...[0, 5, 5, 0.15, 30, "not measured", "opaque", "indoors", 0, "in use", FORECAST],
				]),
			);
			await tx.affected(
				`INSERT INTO batch (id, code, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph_knowledge, wall, exposure, lit_area_m2, state, forecast)
				 VALUES ${batches.text}`,
				batches.parameters,
			);
			const due = valuesOf(jars.map((n) => [KIND, `jar${String(n).padStart(7, "0")}`, "area", dueAtMs(n), 1]));
			await tx.affected(`INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) VALUES ${due.text}`, due.parameters);
		});
	}
}

/** Makes the jars from one number to another due. */
export function makeDue(store: Store, from: number, until: number, dueAtMs: number): Promise<number> {
	const id = (n: number) => `jar${String(n).padStart(7, "0")}`;
	return store.work.run((tx) =>
		tx.affected("UPDATE due SET due_at_ms = $1 WHERE kind = $2 AND subject_id >= $3 AND subject_id < $4", [
			dueAtMs,
			KIND,
			id(from),
			id(until),
		]),
	);
}
