import { RETEST } from "../../stock/due-work.js";
import type { Forecast } from "../../stock/forecast.js";

import { localDateOf } from "../../time/local.js";
import { DEMO_TIME_ZONE } from "../places.js";
import type { TimelineEvent } from "../timeline.js";
import type { Reply } from "../volunteers.js";
import type { DemoDuty, Seen } from "./duty.js";

/** A jar is tested with the kit; what is believed of it moves. */
export const retest: DemoDuty = {
	kind: RETEST,

	async asked({ subjectId, brief }, { store, district }) {
		const known = new Map(district.batches.map((batch) => [batch.id, batch]));
		const jar = known.get(subjectId) ?? known.get(await firstJar(store, subjectId));
		return jar && { kind: "strength", jar, sampleMl: Number(brief["sampleMl"]), madeUpToL: Number(brief["waterL"]) };
	},

	async beforeAnswer({ subjectId }, seen) {
		const before = await forecastOf(subjectId, seen);
		return async (reply) => {
			const after = await forecastOf(subjectId, seen);
			return before && after && changedBy(before.forecast, after, reply, seen.clock.nowMs());
		};
	},
};

/** The jar that was first filled with what is in a jar now. */
async function firstJar(store: Seen["store"], jarId: string): Promise<string> {
	const [row] = await store.query<{ drawnFromId: string | null }>("SELECT drawn_from_id FROM batch WHERE id = $1", [jarId]);
	return row?.drawnFromId ? firstJar(store, row.drawnFromId) : jarId;
}

async function forecastOf(id: string, { store }: Seen): Promise<{ code: string; forecast: Forecast } | undefined> {
	const [row] = await store.query<{ code: string; forecast: string }>("SELECT code, forecast FROM batch WHERE id = $1", [id]);
	return row && { code: row.code, forecast: JSON.parse(row.forecast) as Forecast };
}

function changedBy(
	before: Forecast,
	{ code, forecast }: { code: string; forecast: Forecast },
	reply: Reply,
	atMs: number,
): TimelineEvent {
	const shown = ({ now }: Forecast) =>
		`${now.medianGPerL.toFixed(1)} g/L (${now.lowGPerL.toFixed(1)}-${now.highGPerL.toFixed(1)})`;
	const expected = before.atRetest ?? before.now;
	const next = forecast.retestAtMs;
	return {
		atMs,
		kind: "changed",
		who: code,
		text: `read ${reply.reading ?? "-"}; expected ${expected.medianGPerL.toFixed(1)} g/L, now ${shown(forecast)}`,
		why:
			next === null
				? "too weak for drinking water: no test is asked for any more"
				: `next test on ${localDateOf(next, DEMO_TIME_ZONE)}`,
	};
}
