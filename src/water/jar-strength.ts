import type { Policy } from "../programme/policy.js";
import { underChanceOf } from "../science/under-chance.js";
import { type Forecast, figuresAt, jarBelief, type StrengthFigures } from "../stock/forecast.js";
import { jarFacts, jarRows } from "../stock/jar-facts.js";
import type { Calendars } from "../stock/places.js";
import type { Transaction } from "../store/unit-of-work.js";

/** A jar as far as its bleach is dosed by it. */
export interface JarStrength {
	readonly id: string;
	readonly code: string;
	readonly state: string;
	readonly madeAtMs: number;
	readonly madeStrengthGPerL: number;
	/** Its last reading can hardly be true by what was believed before: nobody doses by it until a fresh sample has been read. */
	readonly contradicted: boolean;
	/** What is believed of it at the instant that was asked for. */
	readonly strength: StrengthFigures;
}

/** @param atMs an instant; before the making the strength as made is told. @returns none where there is no such jar */
export async function jarStrengthAt(
	from: Pick<Transaction, "query">,
	calendars: Calendars,
	jarId: string,
	policy: Policy,
	atMs: number,
): Promise<JarStrength | undefined> {
	const [row] = await jarRows(from, [jarId]);
	const facts = row && (await jarFacts(from, calendars, [row], new Map())).get(row.id);
	if (!row || !facts) return undefined;
	const { id, code, state, madeAtMs, madeStrengthGPerL } = row;
	const strength = figuresAt(underChanceOf(jarBelief(facts)), facts, policy, Math.max(atMs, madeAtMs));
	const contradicted = row.forecast !== null && Boolean((JSON.parse(row.forecast) as Forecast).contradiction);
	return { id, code, state, madeAtMs, madeStrengthGPerL, contradicted, strength };
}

/**
 * The jar that a household's water is dosed from: the one that stands in it, else the newest that its volunteer gives out.
 * @returns the jar's id; none where neither has one in use
 */
export async function jarInUseFor(
	from: Pick<Transaction, "query">,
	household: { readonly householdId: string; readonly volunteerId: string | null },
): Promise<string | undefined> {
	const [jar] = await from.query<{ id: string }>(
		`SELECT id FROM batch WHERE state = 'in use' AND (held_ul IS NULL OR held_ul > 0)
		   AND (household_id = $1 OR (household_id IS NULL AND keeper_id = $2))
		 ORDER BY CASE WHEN household_id IS NULL THEN 1 ELSE 0 END, made_at_ms DESC, id LIMIT 1`,
		[household.householdId, household.volunteerId],
	);
	return jar?.id;
}
