import { currentPolicy, type Policy } from "../programme/policy.js";
import { rounded } from "../science/rounded.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Assigned, refusal } from "./people.js";

/** Litres that a household treats, of each person a day. */
export function litresPerPersonDay({ water }: Pick<Policy, "water">): number {
	return water.treatedUses.reduce((sum, use) => sum + water.litresPerPersonDay[use], 0);
}

/**
 * Checks that a volunteer can take these households on beside those that she has, by what she herself has said that she can: where she
 * has said nothing, her supervisor knows.
 * @throws InputError `not-allowed` that says how many she has, and what would be right
 */
export async function assertRoom(tx: Transaction, to: Assigned, householdIds: readonly string[], at: string): Promise<void> {
	const [stated] = await tx.query<{ mostHouseholds: number | null; mostLitresPerDay: number | null }>(
		"SELECT most_households, most_litres_per_day FROM volunteer_capacity WHERE person_id = $1",
		[to.id],
	);
	if (!stated || householdIds.length === 0) return;
	const has = await sizeOf(tx, "volunteer_id = $1", [to.id]);
	const more = { households: 0, persons: 0 };
	for (let from = 0; from < householdIds.length; from += 500) {
		const page = householdIds.slice(from, from + 500);
		const size = await sizeOf(tx, `id IN (${placeholders(page.length, 2)}) AND volunteer_id IS DISTINCT FROM $1`, [
			to.id,
			...page,
		]);
		more.households += size.households;
		more.persons += size.persons;
	}
	const { mostHouseholds, mostLitresPerDay } = stated;
	if (mostHouseholds !== null && has.households + more.households > mostHouseholds)
		throw tooMuch(
			to.code,
			`${has.households} households and can take on ${mostHouseholds}; ${more.households} more are`,
			mostHouseholds - has.households,
			at,
		);
	const litres = litresPerPersonDay(await currentPolicy(tx));
	if (mostLitresPerDay !== null && (has.persons + more.persons) * litres > mostLitresPerDay + 1e-9)
		throw tooMuch(
			to.code,
			`${rounded(has.persons * litres, 1)} L a day and can take on ${mostLitresPerDay}; ${rounded(more.persons * litres, 1)} L more are`,
			mostLitresPerDay - has.persons * litres,
			at,
		);
}

/**
 * Checks, once households have changed hands, that nobody has more than she herself has said that she can take on.
 * @throws InputError `not-allowed` that names the first who has
 */
export async function assertRoomKept(tx: Transaction, volunteerIds: readonly string[]): Promise<void> {
	const litres = litresPerPersonDay(await currentPolicy(tx));
	for (let from = 0; from < volunteerIds.length; from += 500) {
		const page = volunteerIds.slice(from, from + 500);
		const loads = await tx.query<Loaded>(
			`SELECT p.code, c.most_households, c.most_litres_per_day, COUNT(h.id) AS households, SUM(h.persons) AS persons
			 FROM volunteer_capacity c JOIN person p ON p.id = c.person_id JOIN household h ON h.volunteer_id = p.id
			 WHERE p.id IN (${placeholders(page.length)}) GROUP BY p.code, c.most_households, c.most_litres_per_day ORDER BY p.code`,
			page,
		);
		for (const { code, mostHouseholds, mostLitresPerDay, households, persons } of loads) {
			if (mostHouseholds !== null && Number(households) > mostHouseholds)
				throw tooMuch(code, `${mostHouseholds} as the most; with these she would have ${households}, which is`, 0, "");
			const litresPerDay = Number(persons) * litres;
			if (mostLitresPerDay !== null && litresPerDay > mostLitresPerDay + 1e-9)
				throw tooMuch(
					code,
					`${mostLitresPerDay} L a day as the most; with these she would have ${rounded(litresPerDay, 1)}, which is`,
					0,
					"",
				);
		}
	}
}

interface Loaded {
	readonly code: string;
	readonly mostHouseholds: number | null;
	readonly mostLitresPerDay: number | null;
	readonly households: number | string;
	readonly persons: number | string;
}

async function sizeOf(
	tx: Transaction,
	where: string,
	parameters: readonly unknown[],
): Promise<{ households: number; persons: number }> {
	const [row] = await tx.query<{ households: number; persons: number | null }>(
		`SELECT COUNT(*) AS households, SUM(persons) AS persons FROM household WHERE ${where}`,
		parameters,
	);
	return { households: Number(row?.households ?? 0), persons: Number(row?.persons ?? 0) };
}

function tooMuch(code: string, has: string, room: number, at: string) {
	const right = `must name somebody with room: she has room for ${Math.max(0, rounded(room, 1))}; or raise what she can take on`;
	return refusal("not-allowed", `${code} has ${has} too many.`, at, right);
}
