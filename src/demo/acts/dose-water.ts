import { InputError } from "../../errors/errors.js";
import type { AreaRow } from "../../programme/rows.js";
import { DAY_MS } from "../../time/clock.js";
import { measuredDose } from "../doses.js";
import { between, drawsFor } from "../draws.js";
import { strengthCurve } from "../truth.js";
import type { Act, Acts } from "./act.js";

/** Of the households that write their doses down, one in so many sends them in on the day; the others bring their lists at the month's end. */
const ONE_IN = 12;
const EVERY_DAYS = 2;

/** Households fill a container and dose it with what they measure from their volunteer's jar; the office keeps it the same day. */
export const doseWater: Acts = ({ store, water }, district) => {
	const areas = new Map(district.areas.map((area) => [area.id, area]));
	const knowing = { start: district.start, areas, strengthAt: strengthCurve() };
	const sending = district.households
		.filter(({ id, turbidity }) => district.hidden.water[id]?.recorded && turbidity !== "very turbid")
		.filter((_, i) => i % ONE_IN === 0)
		.flatMap((household) => {
			const container = district.containers.find(({ householdId }) => householdId === household.id);
			const draws = drawsFor(district.start, "sends doses", household.code);
			const firstMs = district.startAtMs + between(draws, 0, EVERY_DAYS) * DAY_MS;
			return container ? [{ household, container, firstMs }] : [];
		});

	const act = (one: (typeof sending)[number], atMs: number): Act => ({
		atMs,
		async do() {
			const { household, container } = one;
			const [batch] = await store.query<{ id: string; code: string }>(
				"SELECT id, code FROM batch WHERE keeper_id = $1 AND state = 'in use' AND (held_ul IS NULL OR held_ul > 100000) AND made_at_ms <= $2 ORDER BY made_at_ms DESC LIMIT 1",
				[household.volunteerId, atMs],
			);
			const jar = batch && district.batches.find(({ id }) => id === batch.id);
			if (!batch || !jar || !areas.has((jar as { areaId: AreaRow["id"] }).areaId)) return [];
			const { bleachMl } = measuredDose(knowing, jar, household, container.volumeL, atMs);
			const [open] = await store.query("SELECT id FROM dose WHERE container_id = $1 AND state = 'open'", [container.id]);
			try {
				await water.recordDose({
					...{ containerCode: container.code, batchCode: batch.code, dosedAtMs: atMs, waterL: container.volumeL, bleachMl },
					...(open ? { into: "new water" as const } : {}),
					byPersonId: null,
				});
			} catch (error) {
				// The jar has just been emptied or set aside by somebody else: the household doses from another next time.
				if (!(error instanceof InputError)) throw error;
			}
			return [];
		},
	});

	return (fromMs, untilMs) =>
		sending.flatMap((one) => {
			const turn = Math.ceil((fromMs - one.firstMs) / (EVERY_DAYS * DAY_MS));
			const atMs = Math.round(one.firstMs + Math.max(0, turn) * EVERY_DAYS * DAY_MS);
			return atMs >= fromMs && atMs < untilMs ? [act(one, atMs)] : [];
		});
};
