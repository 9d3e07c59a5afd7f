/** Reads a database as it lies there. */
export type Look = <T extends object>(statement: string) => Promise<T[]>;

/**
 * What holds in every database of the programme, whatever became of the processes that worked on it: a change and all that belongs to it
 * are there together or not at all. Each is a name, and a statement that finds what breaks it.
 */
export const INVARIANTS: Readonly<Record<string, string>> = {
	"every task has one entry of its opening": `SELECT t.id FROM task t WHERE 1 <>
		(SELECT count(*) FROM ledger_entry e WHERE e.subject_kind = 'task' AND e.subject_id = t.id AND e.action = 'task opened')`,
	"every task that has ended has one entry of its end": `SELECT t.id, t.state FROM task t WHERE t.state <> 'open' AND 1 <>
		(SELECT count(*) FROM ledger_entry e WHERE e.subject_kind = 'task' AND e.subject_id = t.id AND e.action IN ('task done', 'task cannot', 'task withdrawn'))`,
	"no open task has an entry of its end": `SELECT t.id FROM task t WHERE t.state = 'open' AND EXISTS
		(SELECT 1 FROM ledger_entry e WHERE e.subject_kind = 'task' AND e.subject_id = t.id AND e.action IN ('task done', 'task cannot', 'task withdrawn'))`,
	"every entry of a task is of a task that is there": `SELECT e.id FROM ledger_entry e WHERE e.subject_kind = 'task'
		AND NOT EXISTS (SELECT 1 FROM task t WHERE t.id = e.subject_id)`,
	"a task has an end and an outcome, or neither": `SELECT id, state FROM task WHERE (state = 'open') <> (closed_at_ms IS NULL)
		OR (state = 'open') <> (outcome IS NULL) OR (state <> 'open' AND next_step_at_ms IS NOT NULL)`,
	"an open task is of the cycle in which its subject is": `SELECT t.id FROM task t LEFT JOIN due d ON d.kind = t.kind AND d.subject_id = t.subject_id
		WHERE t.state = 'open' AND (d.cycle IS NULL OR d.cycle <> t.cycle)`,
	"a task that has ended is of a cycle that is over": `SELECT t.id FROM task t LEFT JOIN due d ON d.kind = t.kind AND d.subject_id = t.subject_id
		WHERE t.state <> 'open' AND (d.cycle IS NULL OR d.cycle <= t.cycle)`,
	"a strength test that was asked for belongs to a task that has ended": `SELECT s.id FROM strength_test s LEFT JOIN task t ON t.id = s.task_id
		WHERE s.task_id IS NOT NULL AND (t.id IS NULL OR t.state = 'open')`,
	"a jar has as many entries of tests as tests": `SELECT b.id FROM batch b WHERE (SELECT count(*) FROM strength_test s WHERE s.batch_id = b.id) <>
		(SELECT count(*) FROM ledger_entry e WHERE e.subject_kind = 'batch' AND e.subject_id = b.id AND e.action = 'strength tested')`,
	"a jar holds what its moves come to": `SELECT b.id, b.held_ul FROM batch b WHERE b.held_ul IS NOT NULL AND b.held_ul <>
		(SELECT COALESCE(SUM(m.volume_ul), 0) FROM stock_move m WHERE m.jar_id = b.id)`,
	"moves stand beside what a jar holds": `SELECT m.id FROM stock_move m JOIN batch b ON b.id = m.jar_id WHERE b.held_ul IS NULL`,
	"every jar that was registered is there, with its next test": `SELECT e.id FROM ledger_entry e WHERE e.action = 'batch registered'
		AND NOT EXISTS (SELECT 1 FROM batch b JOIN due d ON d.subject_id = b.id WHERE b.id = e.subject_id)`,
	"a text that was dealt with has one entry, one that wasn't has none": `SELECT r.id, r.outcome FROM reply r WHERE
		(CASE WHEN r.outcome = 'received' THEN 0 ELSE 1 END) <>
		(SELECT count(*) FROM ledger_entry e WHERE e.subject_kind = 'reply' AND e.subject_id = r.id)`,
	"a text that was accepted has ended its task": `SELECT r.id FROM reply r LEFT JOIN task t ON t.id = r.task_id
		WHERE r.outcome = 'accepted' AND (t.id IS NULL OR t.state = 'open')`,
	"a message waits for an instant, or has ended at one": `SELECT id, state FROM message WHERE
		(state IN ('waiting', 'claimed')) <> (next_try_at_ms IS NOT NULL) OR (state = 'held') <> (held_until_ms IS NOT NULL)
		OR (state IN ('sent', 'failed', 'withdrawn', 'stale')) <> (ended_at_ms IS NOT NULL)`,
	"a message was sent under a claim, by a channel":
		"SELECT id FROM message WHERE state = 'sent' AND (claim < 1 OR channel IS NULL)",
	"what was merged has a message that tells of it": `SELECT m.id FROM message m LEFT JOIN message d ON d.id = m.digest_id
		WHERE m.state = 'merged' AND d.id IS NULL`,
	"a message that failed has a failure on record": `SELECT m.id FROM message m WHERE m.state = 'failed'
		AND NOT EXISTS (SELECT 1 FROM message_failure f WHERE f.message_id = m.id)`,
};

/** @returns the names of those that are broken, each with the first few rows that break it */
export async function brokenInvariants(look: Look): Promise<Record<string, object[]>> {
	const broken: Record<string, object[]> = {};
	for (const [name, statement] of Object.entries(INVARIANTS)) {
		const rows = await look(`SELECT * FROM (${statement}) AS broken LIMIT 5`);
		if (rows.length > 0) broken[name] = rows;
	}
	return broken;
}
