import type { Asks } from "../../duties/instructions.js";
import type { Brief, Guidance } from "../../duties/kind.js";
import type { DutyKinds } from "../../duties/kinds.js";
import { canWait } from "../../duties/put-off.js";
import type { Rounds } from "../../duties/rounds.js";
import type { Store } from "../../store/store.js";
import { localDateOf } from "../../time/local.js";
import type { Visitor } from "../visitors.js";

/** One open task as its page shows it. */
export interface OpenTask {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly dueAtMs: number;
	/** With the code of the task. */
	readonly brief: Brief;
	readonly guidance: Guidance;
	readonly asks: Asks;
	readonly canWait: boolean;
	/** People wait for it. */
	readonly isAwaited: boolean;
	/** Where she goes for it; none: where she is. */
	readonly place: Place | undefined;
}

/** A stop of today's walk. */
export interface Place {
	readonly kind: "household" | "generator";
	readonly code: string;
	/** From the stop before, along straight lines; none: it doesn't fit into today. */
	readonly km: number | null;
	readonly arriveAtMs: number | null;
}

interface Row {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly dueAtMs: number;
	readonly brief: string;
	readonly putOffTimes: number | null;
}

/** What is open for somebody, and how far she walks for it. */
export interface OpenWork {
	/** First what people wait for, then what is done at home, then in the order of the walk. */
	readonly tasks: readonly OpenTask[];
	readonly km: number;
	readonly stops: number;
}

const COLUMNS = "id, code, kind, due_at_ms, brief, put_off_times";

export async function openWorkOf(
	{ store, rounds, kinds }: { store: Store; rounds: Rounds; kinds: DutyKinds },
	{ personId, code, timeZone }: Visitor,
	nowMs: number,
): Promise<OpenWork> {
	const [rows, round] = await Promise.all([
		store.query<Row>(`SELECT ${COLUMNS} FROM task WHERE assignee_id = $1 AND state = 'open' ORDER BY due_at_ms, id`, [personId]),
		rounds.of(code, localDateOf(nowMs, timeZone)),
	]);
	const places = new Map<string, { place: Place; order: number }>();
	const noted = (place: Place, tasks: readonly { readonly code: string }[]) => {
		for (const task of tasks) places.set(task.code, { place, order: places.size });
	};
	for (const { call, km, arriveAtMs } of round.stops) noted({ kind: call.kind, code: call.code, km, arriveAtMs }, call.tasks);
	for (const call of round.leftOver) noted({ kind: call.kind, code: call.code, km: null, arriveAtMs: null }, call.tasks);
	const order = (task: OpenTask) => (task.isAwaited ? -2 : (places.get(task.code)?.order ?? -1));
	const tasks = rows.map((row) => taskOf(row, kinds, places.get(row.code)?.place));
	return { tasks: tasks.sort((a, b) => order(a) - order(b)), km: round.km, stops: round.stops.length };
}

/** @returns an open task of hers by its id; none where there is none */
export async function openTaskOf(
	{ store, kinds }: { store: Store; kinds: DutyKinds },
	personId: string,
	taskId: string,
): Promise<OpenTask | undefined> {
	const [row] = await store.query<Row>(`SELECT ${COLUMNS} FROM task WHERE id = $1 AND assignee_id = $2 AND state = 'open'`, [
		taskId,
		personId,
	]);
	return row && taskOf(row, kinds, undefined);
}

function taskOf({ brief: text, putOffTimes, ...row }: Row, kinds: DutyKinds, place: Place | undefined): OpenTask {
	const kind = kinds.named(row.kind);
	const brief: Brief = { ...(JSON.parse(text) as Brief), code: row.code };
	const guidance = kind.guidance(brief);
	return {
		...row,
		brief: { ...brief, ...guidance.also },
		guidance,
		asks: guidance.asks,
		canWait: canWait(kind, brief, putOffTimes ?? 0),
		isAwaited: kind.isUrgent(brief),
		place,
	};
}
