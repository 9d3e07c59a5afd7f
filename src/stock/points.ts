import { type GeneratorAvailability, generatorAvailability, generatorsInReach } from "../generators/availability.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

/**
 * The production point that people of an area collect from: the generator of their own area, one that works before one that doesn't, else
 * the nearest that works and can be reached.
 * @returns generators by area; an area from which none can be reached isn't among them
 */
export async function pointsOfAreas(
	from: Pick<Transaction, "query">,
	areaIds: readonly string[],
): Promise<ReadonlyMap<string, GeneratorAvailability>> {
	const ids = [...new Set(areaIds)];
	const points = new Map<string, GeneratorAvailability>();
	for (const generator of await generatorAvailability(from, ids)) {
		const known = points.get(generator.areaId);
		if (!known || (generator.inService && !known.inService)) points.set(generator.areaId, generator);
	}
	const without = ids.filter((id) => !points.has(id));
	if (without.length === 0) return points;
	const places = await from.query<{ id: string; latitudeDeg: number; longitudeDeg: number }>(
		`SELECT id, latitude_deg, longitude_deg FROM area WHERE id IN (${placeholders(without.length)})`,
		without,
	);
	for (const place of places) {
		const [nearest] = await generatorsInReach(from, place);
		if (nearest) points.set(place.id, nearest);
	}
	return points;
}
