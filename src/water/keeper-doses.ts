import type { Policy } from "../programme/policy.js";
import { climateOfDay, type MonthlyClimate } from "../science/climate.js";
import type { StrengthFigures } from "../stock/forecast.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type DoseCardLine, dayOfYear, doseLine } from "./dose-card.js";
import { defaultIn, type ProtocolVersion, versionsIn } from "./protocol/accept.js";
import { doseByHouseholdProtocol } from "./protocol-dose.js";

/** Where a volunteer's households have no containers on file: the size that most programmes hand out. */
const USUAL_L = 20;

/** More sizes than these don't fit into one short message. */
const MOST_SIZES = 2;

const CLASSES = ["clear", "cloudy"] as const;

interface Jar {
	readonly keeperId: string | null;
	readonly madeStrengthGPerL: number;
	readonly climate: string;
}

/** Doses by one protocol, for the sizes that are told of. */
export interface ProtocolDoses {
	readonly protocol: ProtocolVersion;
	readonly lines: readonly DoseCardLine[];
}

/**
 * Today's doses from a jar for the container sizes that its keeper's households have, by the protocols that they follow.
 * @returns the most frequent protocol and size first; where they follow several, one size of each
 */
export async function keeperDoses(
	from: Pick<Transaction, "query">,
	batchId: string,
	strength: StrengthFigures,
	policy: Policy,
	nowMs: number,
): Promise<ProtocolDoses[]> {
	const [jar] = await from.query<Jar>(
		"SELECT b.keeper_id, b.made_strength_g_per_l, a.climate FROM batch b JOIN area a ON a.id = b.area_id WHERE b.id = $1",
		[batchId],
	);
	const first = await defaultIn(from);
	if (!jar || !first) return [];
	const sizes = await from.query<{ versionId: string | null; volumeL: number; number: number }>(
		`SELECT p.protocol_version_id AS version_id, c.volume_l, count(*) AS number FROM household h JOIN container c ON c.household_id = h.id
		 LEFT JOIN household_protocol p ON p.household_id = h.id
		 WHERE h.volunteer_id = $1 GROUP BY p.protocol_version_id, c.volume_l`,
		[jar.keeperId],
	);
	const counted = new Map<string, Map<number, number>>();
	for (const { versionId, volumeL, number } of sizes) {
		const of = counted.get(versionId ?? first.id) ?? new Map<number, number>();
		counted.set(versionId ?? first.id, of.set(volumeL, (of.get(volumeL) ?? 0) + Number(number)));
	}
	if (counted.size === 0) counted.set(first.id, new Map([[USUAL_L, 1]]));
	const versions = await versionsIn(from, [...counted.keys()]);
	const total = (of: ReadonlyMap<number, number>) => [...of.values()].reduce((sum, number) => sum + number, 0);
	const groups = [...counted].sort(([a, x], [b, y]) => total(y) - total(x) || (a < b ? -1 : 1)).slice(0, MOST_SIZES);
	const { dayMeanC, nightMeanC } = climateOfDay(JSON.parse(jar.climate) as MonthlyClimate[], dayOfYear(nowMs));
	const temperatureC = Math.min(45, Math.max(0, (dayMeanC + nightMeanC) / 2));
	const known = { strength, madeStrengthGPerL: jar.madeStrengthGPerL, contradicted: false };
	return groups.map(([versionId, of]) => {
		const protocol = versions.get(versionId) as ProtocolVersion;
		const volumes = [...of].sort(([a, x], [b, y]) => y - x || b - a).map(([volumeL]) => volumeL);
		// Both classes of water for every size: rain can make any source cloudy overnight.
		const lines = volumes.slice(0, groups.length > 1 ? 1 : MOST_SIZES).flatMap((volumeL) =>
			CLASSES.map((turbidity) => ({
				volumeL,
				turbidity,
				answer: doseByHouseholdProtocol(protocol.body, { volumeL, turbidity, temperatureC }, known, policy),
			})),
		);
		return { protocol, lines };
	});
}

/**
 * The doses in one short line.
 * @returns each protocol's by its name where the keeper's households follow several; undefined where the jar has to be tested before it
 *   can be dosed by
 */
export async function keeperDoseLine(
	from: Pick<Transaction, "query">,
	batchId: string,
	strength: StrengthFigures,
	policy: Policy,
	nowMs: number,
): Promise<string | undefined> {
	const doses = await keeperDoses(from, batchId, strength, policy, nowMs);
	const told = doses.flatMap(({ protocol, lines }) => {
		const line = doseLine(lines);
		return line === undefined ? [] : [doses.length > 1 ? `${protocol.code}: ${line}` : line];
	});
	return told.length > 0 ? told.join("; ") : undefined;
}
