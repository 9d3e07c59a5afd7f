import type { Policy } from "../programme/policy.js";
import type { MonthlyClimate } from "../science/climate.js";
import type { StrengthFigures } from "../stock/forecast.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type DoseCardLine, dayOfYear, doseLine, todaysDose } from "./dose-card.js";

/** Where a volunteer's households have no containers on file: the size that most programmes hand out. */
const USUAL_L = [20];

/** More sizes than these don't fit into one short message. */
const MOST_SIZES = 2;

/** @returns today's doses from a jar for the container sizes that its keeper's households have, the most frequent first */
export async function keeperDoses(
	from: Pick<Transaction, "query">,
	batchId: string,
	strength: StrengthFigures,
	policy: Policy,
	nowMs: number,
): Promise<DoseCardLine[]> {
	const [jar] = await from.query<{ keeperId: string | null; madeStrengthGPerL: number; climate: string }>(
		"SELECT b.keeper_id, b.made_strength_g_per_l, a.climate FROM batch b JOIN area a ON a.id = b.area_id WHERE b.id = $1",
		[batchId],
	);
	if (!jar) return [];
	const sizes = await from.query<{ volumeL: number; number: number }>(
		`SELECT c.volume_l, count(*) AS number FROM household h JOIN container c ON c.household_id = h.id
		 WHERE h.volunteer_id = $1 GROUP BY c.volume_l ORDER BY number DESC, c.volume_l DESC LIMIT ${MOST_SIZES}`,
		[jar.keeperId],
	);
	const climate = JSON.parse(jar.climate) as MonthlyClimate[];
	const volumes = sizes.length > 0 ? sizes.map(({ volumeL }) => volumeL) : USUAL_L;
	// Both classes of water for every size: rain can make any source cloudy overnight.
	return volumes.flatMap((volumeL) =>
		CLASSES.map((turbidity) => ({
			volumeL,
			turbidity,
			answer: todaysDose(strength, jar.madeStrengthGPerL, { volumeL, turbidity }, climate, dayOfYear(nowMs), policy),
		})),
	);
}

const CLASSES = ["clear", "cloudy"] as const;

/** @returns the doses in one short line, or undefined where the jar has to be tested before it can be dosed by */
export async function keeperDoseLine(
	from: Pick<Transaction, "query">,
	batchId: string,
	strength: StrengthFigures,
	policy: Policy,
	nowMs: number,
): Promise<string | undefined> {
	const lines = await keeperDoses(from, batchId, strength, policy, nowMs);
	return doseLine(lines);
}
