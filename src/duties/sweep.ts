import { DefectError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { NewMessage } from "../messages/outbox.js";
import { newTaskCode } from "../messages/task-code.js";
import { tellOfWork, type Wake } from "../messages/wake.js";
import { setDue } from "../programme/due.js";
import { currentPolicy } from "../programme/policy.js";
import { among, listed, ONE_BY_ONE } from "../store/sql.js";
import type { Store } from "../store/store.js";
import { isTaken, type Transaction } from "../store/unit-of-work.js";
import { type Clock, HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Randomness } from "../time/randomness.js";
import { Digests } from "./digests.js";
import {
	type DueSubject,
	type DutyKind,
	isOpening,
	type Moment,
	type Opening,
	type Overtaken,
	type Postponement,
} from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { ladderOf, stepAtMs } from "./ladder.js";
import { notBeforeMs, type Reachable, reachablePeople } from "./reachable.js";
import { standIns } from "./stand-in.js";
import { withdrawTasks } from "./withdraw.js";

/** How many subjects one unit of work takes: large enough to write in batches, small enough to let others in between. */
const PAGE = 500;

/**
 * How many due subjects are put in order before their pages are opened: the longest due first, and among them those that stand together.
 * In the order of their due instants alone each page would touch as many places of the database as it has subjects.
 */
const LOOK = 20_000;

/** Looks that open nothing, one after the other, at which a sweep ends: work that puts itself off to what is past must not hold it for ever. */
const MOST_FRUITLESS = 4;

/** Subjects of one kind that were due when they were looked for. */
interface Page {
	readonly kind: string;
	readonly subjectIds: readonly string[];
}

/** Rounds of drawing codes. With nine of ten codes taken, the last of a page are found in some forty. */
const MOST_DRAWS = 200;

interface Numbered {
	readonly id: string;
	readonly code: string;
	readonly opening: Opening;
	readonly kind: DutyKind;
	/** The opening's, as JSON. */
	readonly brief: string;
	/** Whom to tell of it; none: nobody can be told, and the ladder finds somebody. */
	readonly person: Reachable | undefined;
}

/** Opens what has become due. It reads only what is due, so its cost doesn't grow with what exists. */
export class Sweep {
	private readonly digests: Digests;

	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly randomness: Randomness,
		private readonly ids: Ids,
		private readonly kinds: DutyKinds,
		private readonly wake: Wake,
	) {
		this.digests = new Digests(store, clock, ids, wake);
	}

	/** Tells of what was opened, too, and of what was held until now. @returns how many tasks were opened */
	async openDue(): Promise<number> {
		let opened = 0;
		// What was looked at may have made more due (stock to be collected has to be made first, by another generator at that, and wants salt):
		// the same sweep opens that too.
		for (let fruitless = 0; fruitless < MOST_FRUITLESS; ) {
			const nowMs = this.clock.nowMs();
			const pages = await this.look(nowMs);
			if (pages.length === 0) break;
			const before = opened;
			for (const page of pages) opened += await this.page(page);
			fruitless = opened > before || pages.length * PAGE >= LOOK ? 0 : fruitless + 1;
		}
		await this.digests.release();
		return opened;
	}

	/** @returns what is due, as pages of one kind each; rows that stand together are opened together, and the same facts always in the same order */
	private async look(nowMs: number): Promise<readonly Page[]> {
		const due = await this.store.query<{ kind: string; subjectId: string }>(
			`SELECT kind, subject_id FROM due WHERE due_at_ms <= $1 ORDER BY due_at_ms LIMIT ${LOOK}`,
			[nowMs],
		);
		due.sort((a, b) => (a.kind === b.kind ? compared(a.subjectId, b.subjectId) : compared(a.kind, b.kind)));
		const pages: { kind: string; subjectIds: string[] }[] = [];
		for (const { kind, subjectId } of due) {
			const page = pages.at(-1);
			if (page?.kind === kind && page.subjectIds.length < PAGE) page.subjectIds.push(subjectId);
			else pages.push({ kind, subjectIds: [subjectId] });
		}
		return pages;
	}

	/** Two sweeps side by side may draw one code: the later one draws again. @returns how many tasks were opened */
	private async page(page: Page): Promise<number> {
		for (let tried = 1; ; tried++) {
			try {
				return await this.store.work.run((tx) => this.openPage(tx, page));
			} catch (error) {
				if (tried >= 5 || !isTaken(error, "task_code_open")) throw error;
			}
		}
	}

	private async openPage(tx: Transaction, page: Page): Promise<number> {
		const moment: Moment = { nowMs: this.clock.nowMs(), policy: await currentPolicy(tx) };
		// Several schedulers may sweep at once: each takes rows that no other holds.
		const lock = tx.kind === "postgres" ? "FOR UPDATE OF d SKIP LOCKED" : "";
		const due = await tx.query<DueSubject & { hasOpen: boolean | number }>(
			`SELECT d.kind, d.subject_id, d.area_id, d.due_at_ms, d.cycle,
				        EXISTS (SELECT 1 FROM task t WHERE t.kind = d.kind AND t.subject_id = d.subject_id AND t.state = 'open' ${ONE_BY_ONE}) AS has_open
				 FROM due d WHERE d.kind = $1 AND d.subject_id ${among(tx.kind, "$2")} AND d.due_at_ms <= $3 ORDER BY d.subject_id ${lock}`,
			[page.kind, page.subjectIds, moment.nowMs],
		);
		if (due.length === 0) return 0;
		const kind = this.kinds.named(page.kind);
		// A fact that came in while a task was open has set an instant anew: the task that is open already is the work for it.
		const answered = due.filter(({ hasOpen }) => Boolean(hasOpen));
		const overtaken = new Map((await this.withdraw(tx, kind, answered, moment)).map((past) => [past.subject, past]));
		const unopened = due.filter(({ hasOpen }) => !hasOpen);
		const decided: readonly (Opening | Postponement)[] = [
			...answered.map((subject) => overtaken.get(subject) ?? { subject, dueAtMs: null }),
			...(unopened.length === 0 ? [] : await kind.openings(tx, unopened, moment)),
		];
		const openings = decided.filter(isOpening);
		// Until its task is answered, nothing more is due for a subject.
		await tx.affected(`UPDATE due SET due_at_ms = NULL WHERE kind = $1 AND subject_id ${among(tx.kind, "$2")}`, [
			kind.name,
			openings.map(({ subject }) => subject.subjectId),
		]);
		const put = decided.flatMap((decision) => (isOpening(decision) ? [] : [decision]));
		await setDue(
			tx,
			put.map(({ subject: { subjectId, areaId }, dueAtMs }) => ({ kind: kind.name, subjectId, areaId, dueAtMs })),
		);
		const codes = await this.freeCodes(tx, openings.length);
		const work = openings.map(({ assigneeId, subject }) => ({ assigneeId, areaId: subject.areaId }));
		const asked = await this.asked(tx, work);
		const numbered = openings.map((opening, i) => {
			const person = asked[i];
			const assigneeId = person?.id ?? opening.assigneeId;
			const brief = JSON.stringify(opening.brief);
			return { id: this.ids.next(), code: codes[i] as string, kind, opening: { ...opening, assigneeId }, brief, person };
		});
		await this.write(tx, numbered, moment);
		return numbered.length;
	}

	/** Work that facts have done away with is withdrawn; who was asked for it hears no more of it. */
	private async withdraw(
		tx: Transaction,
		kind: DutyKind,
		subjects: readonly DueSubject[],
		moment: Moment,
	): Promise<readonly Overtaken[]> {
		if (subjects.length === 0) return [];
		const overtaken = (await kind.overtaken?.(tx, subjects, moment)) ?? [];
		for (const { subject, evidence } of overtaken)
			await withdrawTasks(tx, this.ids, {
				kind: kind.name,
				subjectIds: [subject.subjectId],
				evidence,
				actor: "sweep",
				nowMs: moment.nowMs,
			});
		return overtaken;
	}

	private async write(tx: Transaction, numbered: readonly Numbered[], moment: Moment): Promise<void> {
		if (numbered.length === 0) return;
		const { nowMs, policy } = moment;
		// Nobody is reminded of what she hasn't been told.
		const told = numbered.map((task) => ({ ...task, fromMs: tellAtMs(task, moment) }));
		await tx.insert(
			"task",
			TASK_COLUMNS,
			told.map(({ id, code, kind, person, fromMs, brief, opening }) => [
				id,
				code,
				kind.name,
				opening.subject.subjectId,
				opening.subject.cycle,
				opening.subject.areaId,
				opening.assigneeId,
				"open",
				opening.subject.dueAtMs,
				nowMs,
				brief,
				0,
				stepAtMs(ladderOf(policy, kind.name, kind.isUrgent(opening.brief)), 0, fromMs, person),
				fromMs,
			]),
		);
		const messages = told.flatMap((task) => this.firstMessage(task, nowMs));
		await tellOfWork(tx, this.wake, messages);
		await record(
			tx,
			this.ids,
			numbered.map(({ id, code, kind, opening }) => ({
				atMs: nowMs,
				actor: "sweep",
				action: "task opened",
				subjectKind: "task",
				subjectId: id,
				areaId: opening.subject.areaId,
				detail: { kind: kind.name, code, about: opening.subject.subjectId, assigneeId: opening.assigneeId, why: opening.why },
			})),
		);
	}

	/** @returns who can be told of each piece of work: whoever looks after it, or who stands in for her */
	private async asked(
		tx: Transaction,
		work: readonly { assigneeId: string | null; areaId: string }[],
	): Promise<(Reachable | undefined)[]> {
		const people = await reachablePeople(
			tx,
			work.flatMap(({ assigneeId }) => assigneeId ?? []),
		);
		const standing = await standIns(tx, work, (id) => people.has(id));
		if (standing.size === 0) return work.map(({ assigneeId }) => people.get(assigneeId ?? ""));
		const supervisors = await reachablePeople(tx, [...standing.values()]);
		return work.map(({ assigneeId }, i) => people.get(assigneeId ?? "") ?? supervisors.get(standing.get(i) ?? ""));
	}

	private firstMessage(
		{ id, code, kind, opening, brief, person, fromMs }: Numbered & { fromMs: number },
		nowMs: number,
	): NewMessage<string>[] {
		if (!person) return [];
		return [
			{
				id: this.ids.next(),
				idempotencyKey: `${id}.0.${person.id}`,
				taskId: id,
				recipientId: person.id,
				text: opening.text ?? kind.texts.first,
				fill: withCode(brief, code),
				urgent: kind.isUrgent(opening.brief),
				createdAtMs: nowMs,
				notBeforeMs: fromMs,
			},
		];
	}

	/** Codes that no open task bears; the unique index stands behind it where two sweeps choose at once. */
	private async freeCodes(tx: Transaction, count: number): Promise<string[]> {
		const free = new Set<string>();
		for (let tried = 0; free.size < count; tried++) {
			if (tried > MOST_DRAWS) throw new DefectError("so many tasks are open that their codes have run out");
			// The more tasks are open, the more draws are in vain: few rounds of more draws are cheaper than many of few.
			const draws = tried === 0 ? count : 2 * (count - free.size) + 8;
			const drawn = [...new Set(Array.from({ length: draws }, () => newTaskCode(this.randomness)))];
			const taken = await tx.query<{ code: string }>(
				`SELECT drawn.code FROM ${listed(tx.kind, "$1", "code")} AS drawn
				 WHERE EXISTS (SELECT 1 FROM task WHERE code = drawn.code AND state = 'open' ${ONE_BY_ONE})`,
				[drawn],
			);
			const used = new Set(taken.map(({ code }) => code));
			for (const code of drawn) if (!used.has(code)) free.add(code);
		}
		return [...free].slice(0, count);
	}
}

/** Whoever waits for a reading is awake; after a silence of the program nobody is woken for it. */
const FRESH_MS = HOUR_MS;

function tellAtMs({ kind, person, opening }: Numbered, { nowMs, policy }: Moment): number {
	const isFresh = nowMs - opening.subject.dueAtMs < FRESH_MS;
	const atOnce = policy.urgentBreaksQuietHours && isFresh && kind.isUrgent(opening.brief);
	return person && !atOnce ? notBeforeMs(person, nowMs) : nowMs;
}

/** The brief and the task's code: written on to the JSON that is there, because writing it anew is the slowest part of opening a task. */
function withCode(brief: string, code: string): string {
	return brief === "{}" ? JSON.stringify({ code }) : `${brief.slice(0, -1)},"code":${JSON.stringify(code)}}`;
}

const TASK_COLUMNS = [
	...["id", "code", "kind", "subject_id", "cycle", "area_id", "assignee_id", "state"],
	...["due_at_ms", "opened_at_ms", "brief", "ladder_step", "next_step_at_ms", "ladder_from_ms"],
];

const compared = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
