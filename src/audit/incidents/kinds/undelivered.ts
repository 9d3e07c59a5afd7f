import { FAILED } from "../../../messages/delivery.js";
import { among } from "../../../store/sql.js";
import { type Cause, type Evidence, IncidentKind, type OpenIncident, type Reader, type Window } from "../incident-kind.js";

/** A person whom no channel reaches: a message to her was given up on every one of them. */
export class Undelivered extends IncidentKind {
	readonly name = "messages not delivered";
	readonly words = "A person whom no channel reaches: a message to her was given up on every one.";
	readonly subjectKind = "person";
	readonly text = "incident.undelivered";

	async causes(from: Reader, { sinceMs }: Window): Promise<Cause[]> {
		const rows = await from.query<{
			id: string;
			personId: string;
			code: string;
			areaId: string;
			endedAtMs: number;
			channel: string | null;
		}>(
			`SELECT m.id, p.id AS person_id, p.code, p.area_id, m.ended_at_ms, m.channel FROM message m JOIN person p ON p.id = m.recipient_id
			 WHERE m.ended_at_ms >= $1 AND m.state = '${FAILED}'
			   AND NOT EXISTS (SELECT 1 FROM incident i WHERE i.kind = $2 AND i.subject_id = p.id AND i.closed_at_ms >= m.ended_at_ms)
			 ORDER BY m.ended_at_ms, m.id`,
			[sinceMs, this.name],
		);
		return rows.map(({ id, personId, code, areaId, endedAtMs, channel }) => ({
			causeId: id,
			subjectId: personId,
			areaId,
			happenedAtMs: endedAtMs,
			found: { about: code, channel },
		}));
	}

	async settled(from: Reader, open: readonly OpenIncident[]): Promise<Evidence[]> {
		const rows = await from.query<{ id: string }>(
			`SELECT i.id FROM incident i WHERE i.id ${among(from.kind, "$1")} AND EXISTS (
			   SELECT 1 FROM message m WHERE m.recipient_id = i.subject_id AND m.created_at_ms >= i.happened_at_ms AND m.state = 'sent' AND m.ended_at_ms > i.happened_at_ms)`,
			[open.map(({ id }) => id)],
		);
		return rows.map(({ id }) => ({ id, because: "a later message was taken by a channel" }));
	}

	async story(from: Reader, { subjectId, happenedAtMs }: OpenIncident) {
		const failures = await from.query<{ id: string; atMs: number; channel: string; reason: string }>(
			`SELECT m.id, f.failed_at_ms AS at_ms, f.channel, f.reason FROM message m JOIN message_failure f ON f.message_id = m.id
			 WHERE m.recipient_id = $1 AND m.ended_at_ms >= $2 AND m.state = '${FAILED}' ORDER BY f.failed_at_ms, f.id LIMIT 200`,
			[subjectId, happenedAtMs],
		);
		return {
			facts: failures.map(({ id, atMs, channel, reason }) => ({
				id,
				atMs,
				what: "try failed",
				detail: { message: id, channel, reason },
			})),
			taskSubjectIds: [],
		};
	}
}
