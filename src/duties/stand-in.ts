import { mayBeWrittenTo } from "../programme/consent.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

/**
 * The supervisor of each area, or who of another role looks after it: one of its own, else one of the nearest area above it.
 * @returns ids of people by id of area; an area without any isn't among them
 */
export async function areaSupervisors(
	from: Pick<Transaction, "query" | "kind">,
	areaIds: readonly string[],
	role: "supervisor" | "health office" = "supervisor",
): Promise<ReadonlyMap<string, string>> {
	const distinct = [...new Set(areaIds)];
	if (distinct.length === 0) return new Map();
	const rows = await from.query<{ areaId: string; supervisorId: string }>(
		`WITH RECURSIVE up (area_id, at_id, level) AS (
			SELECT id, id, 0 FROM area WHERE id IN (${placeholders(distinct.length)})
			UNION ALL SELECT up.area_id, area.parent_id, up.level + 1 FROM up JOIN area ON area.id = up.at_id WHERE area.parent_id IS NOT NULL AND up.level < 20
		) SELECT up.area_id, p.id AS supervisor_id FROM up JOIN person p ON p.area_id = up.at_id
		WHERE p.role = $${distinct.length + 1} AND p.active AND ${mayBeWrittenTo("p", from.kind)} ORDER BY up.level, p.code`,
		[...distinct, role],
	);
	const nearest = new Map<string, string>();
	for (const { areaId, supervisorId } of rows) if (!nearest.has(areaId)) nearest.set(areaId, supervisorId);
	return nearest;
}

interface Assignable {
	readonly areaId: string;
	readonly assigneeId: string | null;
}

/**
 * Who is asked for work that nobody looks after, or whose volunteer has left: the supervisor, who can do it or hand it over.
 * @returns ids of people by the index of the work; work that has its volunteer isn't among them
 */
export async function standIns(
	from: Pick<Transaction, "query" | "kind">,
	work: readonly Assignable[],
	isReachable: (personId: string) => boolean,
): Promise<ReadonlyMap<number, string>> {
	const doubtful = work.flatMap(({ areaId, assigneeId }, at) =>
		assigneeId !== null && isReachable(assigneeId) ? [] : [{ at, areaId, assigneeId }],
	);
	if (doubtful.length === 0) return new Map();
	const named = [...new Set(doubtful.flatMap(({ assigneeId }) => assigneeId ?? []))];
	const left = named.length === 0 ? [] : await from.query<Left>(`${leftOn(from.kind)} (${placeholders(named.length)})`, named);
	const supervisorOf = new Map(left.map(({ id, supervisorId }) => [id, supervisorId]));
	// Who only wants no messages keeps her work: her supervisor was told, and agrees with her how it goes on.
	const orphaned = doubtful.filter(({ assigneeId }) => assigneeId === null || supervisorOf.has(assigneeId));
	const ofArea = await areaSupervisors(
		from,
		orphaned.map(({ areaId }) => areaId),
	);
	return new Map(
		orphaned.flatMap(({ at, areaId, assigneeId }): [number, string][] => {
			const supervisorId = supervisorOf.get(assigneeId ?? "") ?? ofArea.get(areaId);
			return supervisorId ? [[at, supervisorId]] : [];
		}),
	);
}

interface Left {
	readonly id: string;
	readonly supervisorId: string | null;
}

const leftOn = (
	kind: Transaction["kind"],
) => `SELECT p.id, s.id AS supervisor_id FROM person p LEFT JOIN person s ON s.id = p.supervisor_id AND s.active AND ${mayBeWrittenTo("s", kind)}
	WHERE NOT p.active AND p.id IN`;
