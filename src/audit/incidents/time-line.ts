import { deliveryOf, type SegmentReceipt } from "../../messages/delivery.js";
import { among } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Fact, IncidentKind, OpenIncident } from "./incident-kind.js";

/** One line of what happened: a fact, a task, what somebody was told, what somebody answered, or a step of the incident itself. */
export interface Line {
	readonly atMs: number;
	readonly of: "fact" | "task" | "message" | "answer" | "incident";
	readonly what: string;
	readonly detail: Readonly<Record<string, string | number | null>>;
}

interface TaskRow {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly state: string;
	readonly openedAtMs: number;
	readonly closedAtMs: number | null;
	readonly assignee: string | null;
	readonly closedBy: string | null;
	readonly outcome: string | null;
}

interface MessageRow {
	readonly id: string;
	readonly text: string;
	readonly recipient: string;
	readonly role: string;
	readonly channel: string | null;
	readonly state: string;
	readonly createdAtMs: number;
	readonly endedAtMs: number | null;
	readonly urgent: boolean | number;
}

/** Puts together who could drink what and when, who was asked and told, whether it reached them, what they answered, and what was done. */
export class TimeLine {
	constructor(private readonly store: Store) {}

	async of(kind: IncidentKind, incident: OpenIncident): Promise<Line[]> {
		const { facts, taskSubjectIds } = await kind.story(this.store, incident);
		const tasks = await this.tasks(incident, taskSubjectIds);
		const lines = [
			...facts.map(({ atMs, what, detail }): Line => ({ atMs, of: "fact", what, detail })),
			...tasks.flatMap(linesOfTask),
			...(await this.messages(facts, tasks)),
			...(await this.answers(tasks)),
			...(await this.steps(incident.id)),
		];
		return lines.sort((a, b) => a.atMs - b.atMs || ORDER[a.of] - ORDER[b.of]);
	}

	private async tasks({ subjectId, happenedAtMs }: OpenIncident, subjects: readonly string[]): Promise<TaskRow[]> {
		return this.store.query<TaskRow>(
			`SELECT t.id, t.code, t.kind, t.state, t.opened_at_ms, t.closed_at_ms, t.outcome, p.code AS assignee, c.code AS closed_by
			 FROM task t LEFT JOIN person p ON p.id = t.assignee_id LEFT JOIN person c ON c.id = t.closed_by_id
			 WHERE t.id = $1 OR (t.subject_id ${among(this.store.kind, "$2")} AND (t.opened_at_ms >= $3 OR t.closed_at_ms >= $3 OR t.state = 'open')) ORDER BY t.opened_at_ms, t.id`,
			[subjectId, subjects, happenedAtMs],
		);
	}

	/** What was told because of a record bears its id in its key; what tells of a task belongs to it. */
	private async messages(facts: readonly Fact[], tasks: readonly TaskRow[]): Promise<Line[]> {
		const taskIds = tasks.map(({ id }) => id);
		const because = [...new Set([...facts.map(({ id }) => id), ...taskIds])];
		const rows: MessageRow[] = [];
		for (let from = 0; from < because.length; from += 100) {
			const some = because.slice(from, from + 100);
			const keys = some.map((_, i) => `(m.idempotency_key >= $${i * 2 + 1} AND m.idempotency_key < $${i * 2 + 2})`);
			rows.push(
				...(await this.store.query<MessageRow>(
					`${MESSAGES} WHERE ${keys.join(" OR ")}`,
					some.flatMap((id) => [`${id}.`, `${id}/`]),
				)),
			);
		}
		rows.push(...(await this.store.query<MessageRow>(`${MESSAGES} WHERE m.task_id ${among(this.store.kind, "$1")}`, [taskIds])));
		const distinct = [...new Map(rows.map((row) => [row.id, row])).values()];
		const receipts = await this.receipts(distinct.map(({ id }) => id));
		return distinct.flatMap((message) => linesOfMessage(message, deliveryOf(receipts.get(message.id) ?? [])));
	}

	private async receipts(ids: readonly string[]): Promise<ReadonlyMap<string, SegmentReceipt[]>> {
		const rows = await this.store.query<SegmentReceipt & { messageId: string }>(
			`SELECT message_id, claim, state FROM message_receipt WHERE message_id ${among(this.store.kind, "$1")}`,
			[ids],
		);
		const byMessage = new Map<string, SegmentReceipt[]>();
		for (const { messageId, ...receipt } of rows) byMessage.set(messageId, [...(byMessage.get(messageId) ?? []), receipt]);
		return byMessage;
	}

	private async answers(tasks: readonly TaskRow[]): Promise<Line[]> {
		const rows = await this.store.query<{ atMs: number; from: string | null; outcome: string; task: string; channel: string }>(
			`SELECT r.received_at_ms AS at_ms, p.code AS "from", r.outcome, t.code AS task, r.channel
			 FROM reply r JOIN task t ON t.id = r.task_id LEFT JOIN person p ON p.id = r.person_id WHERE r.task_id ${among(this.store.kind, "$1")}`,
			[tasks.map(({ id }) => id)],
		);
		return rows.map(({ atMs, ...detail }) => ({ atMs, of: "answer", what: "text came in", detail }));
	}

	private async steps(id: string): Promise<Line[]> {
		const rows = await this.store.query<{ atMs: number; action: string; actor: string; detail: string }>(
			`SELECT l.at_ms, l.action, COALESCE(p.code, l.actor) AS actor, l.detail FROM ledger_entry l LEFT JOIN person p ON p.id = l.actor
			 WHERE l.subject_kind = 'incident' AND l.subject_id = $1 ORDER BY l.id`,
			[id],
		);
		return rows.map(({ atMs, action, actor, detail }) => ({
			atMs,
			of: "incident",
			what: action,
			detail: { ...(JSON.parse(detail) as Line["detail"]), by: actor },
		}));
	}
}

const ORDER = { fact: 0, task: 1, message: 2, answer: 3, incident: 4 } as const;

const MESSAGES = `SELECT m.id, m.text, p.code AS recipient, p.role, m.channel, COALESCE(d.state, m.state) AS state, m.created_at_ms,
	COALESCE(d.ended_at_ms, m.ended_at_ms) AS ended_at_ms, m.urgent
	FROM message m JOIN person p ON p.id = m.recipient_id LEFT JOIN message d ON d.id = m.digest_id`;

function linesOfTask({ code, kind, state, openedAtMs, closedAtMs, assignee, closedBy }: TaskRow): Line[] {
	const opened: Line = { atMs: openedAtMs, of: "task", what: "task opened", detail: { task: code, kind, assignee } };
	return closedAtMs === null
		? [opened]
		: [opened, { atMs: closedAtMs, of: "task", what: `task ${state}`, detail: { task: code, kind, by: closedBy } }];
}

/** When she was told is when a channel took it; where none has, when it was to be told. */
function linesOfMessage(message: MessageRow, receipt: string | undefined): Line[] {
	const { text, recipient, role, channel, state, createdAtMs, endedAtMs, urgent } = message;
	const what =
		state === "sent"
			? "told"
			: state === "failed"
				? "could not be told"
				: state === "withdrawn"
					? "not told any more"
					: "to be told";
	return [
		{
			atMs: endedAtMs ?? createdAtMs,
			of: "message",
			what,
			detail: { to: recipient, role, text, channel, urgent: urgent ? "yes" : "no", receipt: receipt ?? null },
		},
	];
}
