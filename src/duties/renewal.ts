import { record } from "../ledger/ledger.js";
import { setDue } from "../programme/due.js";
import { among } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { type DueSubject, isOpening, type Moment } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { withdrawTasks } from "./withdraw.js";

/** What of a task is looked at anew. */
interface OldTask {
	readonly id: string;
	readonly code: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly openedAtMs: number;
	/** JSON. */
	readonly brief: string;
}

/** Work that nobody has answered for so long that its figures may be others by now. */
export class Renewal {
	constructor(
		private readonly ids: Ids,
		private readonly kinds: DutyKinds,
	) {}

	/**
	 * @param kindName of all the tasks
	 * @returns by task: with the brief as it would be opened now; undefined where there was nothing left to do, and it was withdrawn
	 */
	async of<T extends OldTask>(
		tx: Transaction,
		kindName: string,
		tasks: readonly T[],
		moment: Moment,
	): Promise<ReadonlyMap<string, T | undefined>> {
		const kind = this.kinds.named(kindName);
		const due = await tx.query<DueSubject>(
			`SELECT kind, subject_id, area_id, due_at_ms, cycle FROM due WHERE kind = $1 AND subject_id ${among(tx.kind, "$2")}`,
			[kindName, tasks.map(({ subjectId }) => subjectId)],
		);
		const subjects = due.map((subject) => ({ ...subject, dueAtMs: moment.nowMs }));
		const decided = subjects.length === 0 ? [] : await kind.openings(tx, subjects, moment);
		const renewed = new Map<string, T | undefined>();
		const bySubject = new Map(tasks.map((task) => [task.subjectId, task]));
		for (const decision of decided) {
			const task = bySubject.get(decision.subject.subjectId);
			if (!task) continue;
			if (!isOpening(decision)) {
				await this.withdraw(tx, kindName, decision.subject, decision.dueAtMs, moment);
				renewed.set(task.id, undefined);
				continue;
			}
			const brief = JSON.stringify(decision.brief);
			if (brief === task.brief) continue;
			await tx.affected("UPDATE task SET brief = $2 WHERE id = $1 AND state = 'open'", [task.id, brief]);
			await record(tx, this.ids, [
				{
					...{ atMs: moment.nowMs, actor: "escalation", action: "task renewed", subjectKind: "task", subjectId: task.id },
					...{ areaId: task.areaId, detail: { kind: kindName, code: task.code, why: decision.why } },
				},
			]);
			renewed.set(task.id, { ...task, brief });
		}
		return renewed;
	}

	private async withdraw(
		tx: Transaction,
		kind: string,
		{ subjectId, areaId }: DueSubject,
		dueAtMs: number | null,
		{ nowMs }: Moment,
	): Promise<void> {
		const evidence = { because: "it wouldn't be asked for any more, as things are now" };
		await withdrawTasks(tx, this.ids, { kind, subjectIds: [subjectId], evidence, actor: "escalation", nowMs });
		await setDue(tx, [{ kind, subjectId, areaId, dueAtMs }]);
	}
}
