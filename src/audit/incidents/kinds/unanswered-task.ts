import { among } from "../../../store/sql.js";
import { DAY_MS } from "../../../time/clock.js";
import { firstIdAt } from "../../../time/ids.js";
import { type Cause, type Evidence, IncidentKind, type OpenIncident, type Reader, type Window } from "../incident-kind.js";

/** By then every step of the ladders that ship has been taken, twice over. Own choice. */
const UNANSWERED_DAYS = 7;

/** A task that nobody has answered for a week. */
export class UnansweredTask extends IncidentKind {
	readonly name = "task never answered";
	readonly words = `Due work that nobody has answered for ${UNANSWERED_DAYS} days.`;
	readonly subjectKind = "task";
	readonly text = "incident.unanswered";

	async causes(from: Reader, { sinceMs, nowMs }: Window): Promise<Cause[]> {
		const after = UNANSWERED_DAYS * DAY_MS;
		const rows = await from.query<{ id: string; code: string; kind: string; areaId: string; openedAtMs: number }>(
			"SELECT id, code, kind, area_id, opened_at_ms FROM task WHERE id >= $1 AND id < $2 AND state = 'open' ORDER BY id",
			[firstIdAt(sinceMs - after), firstIdAt(nowMs - after)],
		);
		return rows.map(({ id, code, kind, areaId, openedAtMs }) => ({
			causeId: id,
			subjectId: id,
			areaId,
			happenedAtMs: openedAtMs,
			found: { about: code, kindOfWork: kind, days: UNANSWERED_DAYS },
		}));
	}

	async settled(from: Reader, open: readonly OpenIncident[]): Promise<Evidence[]> {
		const rows = await from.query<{ id: string; state: string }>(
			`SELECT i.id, t.state FROM incident i JOIN task t ON t.id = i.subject_id WHERE i.id ${among(from.kind, "$1")} AND t.state <> 'open'`,
			[open.map(({ id }) => id)],
		);
		return rows.map(({ id, state }) => ({ id, because: `the task is ${state}` }));
	}

	async story(from: Reader, { subjectId }: OpenIncident) {
		const [task] = await from.query<{ about: string }>("SELECT subject_id AS about FROM task WHERE id = $1", [subjectId]);
		return { facts: [], taskSubjectIds: task ? [task.about] : [] };
	}
}
