import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

/** @returns by area, its public holidays and those of every area that it lies in: local dates 'YYYY-MM-DD' */
export async function holidaysOf(
	from: Pick<Transaction, "query">,
	areaIds: readonly string[],
): Promise<ReadonlyMap<string, readonly string[]>> {
	const distinct = [...new Set(areaIds)];
	if (distinct.length === 0) return new Map();
	const rows = await from.query<{ areaId: string; onDate: string }>(
		`WITH RECURSIVE up (area_id, at_id, level) AS (
			SELECT id, id, 0 FROM area WHERE id IN (${placeholders(distinct.length)})
			UNION ALL SELECT up.area_id, area.parent_id, up.level + 1 FROM up JOIN area ON area.id = up.at_id WHERE area.parent_id IS NOT NULL AND up.level < 20
		) SELECT up.area_id, h.on_date FROM up JOIN holiday h ON h.area_id = up.at_id`,
		distinct,
	);
	const byArea = new Map<string, string[]>();
	for (const { areaId, onDate } of rows) {
		const known = byArea.get(areaId);
		if (known) known.push(onDate);
		else byArea.set(areaId, [onDate]);
	}
	return byArea;
}
