import { InputError } from "../errors/errors.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import type { NewPlace } from "./handing-over.js";

/** Where a jar is to stand, by codes: with a keeper, in a household, or at its generator's production point; exactly one of them. */
export interface NamedPlace {
	readonly keeperCode?: string | undefined;
	readonly householdCode?: string | undefined;
	/** Code of the generator whose point it is. */
	readonly productionPoint?: string | undefined;
}

/**
 * @param jarId the jar that is carried or drawn from
 * @param at JSON Pointer of the place
 * @returns the place by ids; a household's jar keeps the household's volunteer as its keeper
 * @throws InputError `unknown-subject`, `invalid-input` where a jar is to go to a point that didn't make it
 */
export async function placeNamed(
	tx: Pick<Transaction, "query">,
	jarId: string,
	named: NamedPlace,
	at: string,
): Promise<NewPlace> {
	if (named.keeperCode !== undefined) {
		const [keeper] = await tx.query<{ id: string; areaId: string; active: boolean | number }>(
			"SELECT id, area_id, active FROM person WHERE code = $1",
			[named.keeperCode],
		);
		if (!keeper?.active) throw unknown("person who is active", `${at}/keeperCode`);
		return { areaId: keeper.areaId, keeperId: keeper.id, householdId: null };
	}
	if (named.householdCode !== undefined) {
		const [household] = await tx.query<{ id: string; areaId: string; volunteerId: string | null }>(
			"SELECT id, area_id, volunteer_id FROM household WHERE code = $1",
			[named.householdCode],
		);
		if (!household) throw unknown("household", `${at}/householdCode`);
		return { areaId: household.areaId, keeperId: household.volunteerId, householdId: household.id };
	}
	const [generator] = await tx.query<{ id: string; areaId: string }>("SELECT id, area_id FROM generator WHERE code = $1", [
		named.productionPoint,
	]);
	if (!generator) throw unknown("generator", `${at}/productionPoint`);
	const jar = only(await tx.query<{ generatorId: string | null }>("SELECT generator_id FROM batch WHERE id = $1", [jarId]));
	// A jar that has neither keeper nor household stands at the point of the generator that made it: another's would be a lie.
	if (jar.generatorId !== generator.id)
		throw new InputError(
			"invalid-input",
			"This jar wasn't made by that generator; it can only go back to the point that made it.",
			{
				problems: [{ at: `${at}/productionPoint`, message: "must be the code of the generator that made it" }],
			},
		);
	return { areaId: generator.areaId, keeperId: null, householdId: null };
}

function unknown(noun: string, at: string): InputError {
	return new InputError("unknown-subject", `There is no ${noun} of the code that was given.`, {
		problems: [{ at, message: `must be the code of a ${noun}` }],
	});
}
