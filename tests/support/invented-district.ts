import { anArea, aPerson } from "./builders.js";
import type { World } from "./world.js";

export interface InventedDistrict {
	/** Codes. */
	readonly area: string;
	readonly supervisor: string;
	readonly volunteers: readonly string[];
	readonly households: readonly string[];
}

/**
 * An invented area with a supervisor and volunteers who live a kilometre apart along a line, and households around each of them: the
 * households of volunteer 1 first. Ids are codes. About 111 m are a thousandth of a degree.
 */
export async function inventedDistrict(
	{ store }: Pick<World, "store">,
	name: string,
	{ volunteers = 3, householdsEach = 4, parent }: { volunteers?: number; householdsEach?: number; parent?: string } = {},
): Promise<InventedDistrict> {
	await anArea(store, { id: name, parentId: parent ?? null });
	const supervisor = `${name}-sup`;
	await aPerson(store, { id: supervisor, areaId: name, role: "supervisor", name: "Invented Supervisor" });
	const codes = Array.from({ length: volunteers }, (_, v) => `${name}-v${v + 1}`);
	for (const id of codes) await aPerson(store, { id, areaId: name, supervisorId: supervisor, name: `Invented ${id}` });
	const households: string[] = [];
	await store.work.run(async (tx) => {
		for (const [v, id] of codes.entries()) {
			await tx.affected(
				"INSERT INTO volunteer_capacity (person_id, latitude_deg, longitude_deg, changed_at_ms) VALUES ($1, $2, $3, 0)",
				[id, -1.5, 37 + v * 0.009],
			);
			for (let h = 0; h < householdsEach; h++) {
				const household = `${name}-h${v + 1}${h}`;
				households.push(household);
				await tx.affected(
					`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity, latitude_deg, longitude_deg)
					 VALUES ($1, $1, $2, NULL, 5, 'invented well', 'clear', $3, $4)`,
					[household, name, -1.5 + (h - householdsEach / 2) * 0.0005, 37 + v * 0.009 + 0.0005],
				);
				await tx.affected(
					"INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ($1, $1, $2, 20, 'bucket with cover')",
					[`${household}-c`, household],
				);
			}
		}
	});
	return { area: name, supervisor, volunteers: codes, households };
}

export function write({ store }: Pick<World, "store">, sql: string, parameters: unknown[] = []): Promise<number> {
	return store.work.run((tx) => tx.affected(sql, parameters));
}
