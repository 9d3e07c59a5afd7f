import { InputError, type Problem } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";

/** The areas that a supervisor, or somebody of the health office, sees to beside her own, each with all below it. */
export class AreaDuties {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @returns codes of areas, her own first */
	async of(personId: string): Promise<string[]> {
		const rows = await this.store.query<{ code: string }>(
			`SELECT a.code, 0 AS rank FROM area a JOIN person p ON p.area_id = a.id WHERE p.id = $1
			 UNION ALL SELECT a.code, 1 FROM area a JOIN area_duty d ON d.area_id = a.id WHERE d.person_id = $1 ORDER BY rank, code`,
			[personId],
		);
		return rows.map(({ code }) => code);
	}

	/**
	 * Sets them: what isn't among the codes is hers no more; her own area always is.
	 * @throws InputError for a volunteer, for a code that no area has, and for an area that isn't in the tree
	 */
	set(personId: string, codes: readonly string[], by: string): Promise<void> {
		return this.store.work.run(async (tx) => {
			const [person] = await tx.query<{ role: string; areaId: string }>("SELECT role, area_id FROM person WHERE id = $1", [
				personId,
			]);
			if (!person || person.role === "volunteer")
				throw new InputError("not-allowed", "A volunteer sees to households, not to areas.", {
					problems: [{ at: "code", message: "must name a supervisor or somebody of the health office" }],
				});
			const areaIds = await inTree(tx, codes);
			await tx.affected("DELETE FROM area_duty WHERE person_id = $1", [personId]);
			for (const areaId of areaIds)
				if (areaId !== person.areaId)
					await tx.affected("INSERT INTO area_duty (person_id, area_id) VALUES ($1, $2)", [personId, areaId]);
			const about = { subjectKind: "person", subjectId: personId, areaId: person.areaId };
			const detail = { areas: [...codes].sort() };
			await record(tx, this.ids, [{ atMs: this.clock.nowMs(), actor: by, action: "areas set", ...about, detail }]);
		});
	}
}

/** @returns the areas' ids, each once @throws InputError that names each code that isn't in the tree */
async function inTree(tx: Transaction, codes: readonly string[]): Promise<Set<string>> {
	const areas = await tx.query<{ id: string; code: string; parentId: string | null }>("SELECT id, code, parent_id FROM area");
	const byId = new Map(areas.map((area) => [area.id, area]));
	const byCode = new Map(areas.map((area) => [area.code, area]));
	const problems: Problem[] = [];
	const ids = new Set<string>();
	for (const [i, code] of codes.entries()) {
		const found = byCode.get(code);
		const refuse = (message: string) => problems.push({ at: `/areaCodes/${i}`, message });
		if (!found) refuse("names no area");
		else if (isInCircle(found.id, (id) => byId.get(id)?.parentId ?? null))
			refuse("lies in a circle of areas, each within the next; one of them must lie in another area, or in none");
		else ids.add(found.id);
	}
	if (problems.length === 0) return ids;
	throw new InputError("unknown-area", "An area isn't in the tree of areas; nothing was changed.", { problems });
}

function isInCircle(id: string, parentOf: (id: string) => string | null): boolean {
	const seen = new Set<string>();
	for (let at: string | null = id; at !== null; at = parentOf(at)) {
		if (seen.has(at)) return true;
		seen.add(at);
	}
	return false;
}
