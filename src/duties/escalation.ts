import { record } from "../ledger/ledger.js";
import type { NewMessage } from "../messages/outbox.js";
import { withoutNames } from "../messages/text-names.js";
import { tellOfWork, type Wake } from "../messages/wake.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import { among, valuesOf } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Brief, Moment } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { beginsAnew, type Climb, climbOf, ladderOf, restOfLadderMs } from "./ladder.js";
import { notBeforeMs, onceADayMs, type Reachable, reachablePeople } from "./reachable.js";
import { Renewal } from "./renewal.js";
import { areaSupervisors } from "./stand-in.js";
import { untold } from "./told.js";

const PAGE = 250;

/** How often it is looked whether somebody has been told. */
const LOOK_AGAIN_MS = HOUR_MS;

interface Unanswered {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly assigneeId: string | null;
	readonly openedAtMs: number;
	readonly ladderFromMs: number;
	readonly ladderStep: number;
	readonly brief: string;
	/** The assignee's supervisor; where she has none, the area's. */
	readonly supervisorId: string | null;
	readonly assigneeName: string | null;
	/** Of the area, or the nearest above it. */
	readonly officeId: string | null;
}

/** Climbs the ladder for tasks that nobody has answered: again to the assignee, then to the supervisor. */
export class Escalation {
	private readonly renewal: Renewal;

	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly kinds: DutyKinds,
		private readonly wake: Wake,
	) {
		this.renewal = new Renewal(ids, kinds);
	}

	/** @returns how many tasks went up a step */
	async climb(): Promise<number> {
		let climbed = 0;
		for (;;) {
			const seen = await this.store.work.run((tx) => this.climbPage(tx));
			climbed += seen;
			if (seen < PAGE) return climbed;
		}
	}

	/** The ladder of who hasn't been told yet begins when she has; people wait for what is urgent, and others are asked then. */
	private async untilTold(tx: Transaction, unanswered: readonly Unanswered[], nowMs: number): Promise<ReadonlySet<string>> {
		const patient = unanswered.filter((task) => !this.kinds.named(task.kind).isUrgent(JSON.parse(task.brief) as Brief));
		const waiting = await untold(
			tx,
			patient.map(({ id }) => id),
		);
		if (waiting.size > 0)
			await tx.affected(
				`UPDATE task SET ladder_from_ms = $1, next_step_at_ms = $2 WHERE id ${among(tx.kind, "$3")} AND state = 'open'`,
				[nowMs, nowMs + LOOK_AGAIN_MS, [...waiting]],
			);
		return waiting;
	}

	private async climbPage(tx: Transaction): Promise<number> {
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(tx);
		const lock = tx.kind === "postgres" ? "FOR UPDATE OF t SKIP LOCKED" : "";
		const unanswered = await tx.query<Unanswered>(
			`SELECT t.id, t.code, t.kind, t.subject_id, t.area_id, t.assignee_id, t.opened_at_ms, COALESCE(t.ladder_from_ms, t.opened_at_ms) AS ladder_from_ms, t.ladder_step, t.brief, p.name AS assignee_name,
			        p.supervisor_id
			 FROM task t LEFT JOIN person p ON p.id = t.assignee_id
			 WHERE t.next_step_at_ms <= $1 AND t.state = 'open' ORDER BY t.next_step_at_ms, t.id LIMIT ${PAGE} ${lock}`,
			[nowMs],
		);
		if (unanswered.length === 0) return 0;
		const waiting = await this.untilTold(tx, unanswered, nowMs);
		const untouched = unanswered.filter(({ id }) => !waiting.has(id));
		const told = await this.seenAnew(tx, untouched, { policy, nowMs });
		if (told.length > 0) await this.climbThese(tx, told, policy, nowMs);
		return unanswered.length;
	}

	/**
	 * Where a ladder begins anew, much may have changed since the task was opened: it is asked for with the figures of today, and withdrawn
	 * where there is nothing left to do.
	 * @returns those that are still to be done
	 */
	private async seenAnew(tx: Transaction, tasks: readonly Unanswered[], moment: Moment): Promise<Unanswered[]> {
		const old = tasks.filter((task) => beginsAnew(this.ladderOf(task, moment.policy), task.ladderStep));
		const seen = new Map<string, Unanswered | undefined>();
		for (const kind of new Set(old.map((task) => task.kind))) {
			const those = old.filter((task) => task.kind === kind);
			for (const [id, task] of await this.renewal.of(tx, kind, those, moment)) seen.set(id, task);
		}
		return tasks.flatMap((task) => (seen.has(task.id) ? (seen.get(task.id) ?? []) : task));
	}

	private async climbThese(tx: Transaction, unanswered: readonly Unanswered[], policy: Policy, nowMs: number): Promise<void> {
		const alone = unanswered.filter(({ supervisorId }) => supervisorId === null);
		const ofArea = await areaSupervisors(
			tx,
			alone.map(({ areaId }) => areaId),
		);
		const offices = await areaSupervisors(
			tx,
			unanswered.map(({ areaId }) => areaId),
			"health office",
		);
		const tasks = unanswered.map((task) => ({
			...task,
			supervisorId: task.supervisorId ?? ofArea.get(task.areaId) ?? null,
			officeId: offices.get(task.areaId) ?? null,
		}));
		const people = await reachablePeople(
			tx,
			tasks.flatMap((task) => [task.assigneeId ?? [], task.supervisorId ?? [], task.officeId ?? []].flat()),
		);
		const restMs = restOfLadderMs(policy);
		const climbs = tasks.map((task) => {
			const times = people.get(task.assigneeId ?? "");
			return { task, climb: climbOf(this.ladderOf(task, policy), task.ladderStep, task.ladderFromMs, nowMs, times, restMs) };
		});
		const messages = climbs.flatMap(({ task, climb }) => this.messagesOf(task, climb, people, policy, nowMs));
		await tellOfWork(tx, this.wake, messages);
		const { text, parameters } = valuesOf(climbs.map(({ task, climb }) => [task.id, climb.ladderStep, climb.nextStepAtMs]));
		await tx.affected(
			`UPDATE task SET ladder_step = CAST(v.column2 AS integer), next_step_at_ms = CAST(v.column3 AS bigint)
			 FROM (VALUES ${text}) AS v WHERE task.id = v.column1`,
			parameters,
		);
		await record(
			tx,
			this.ids,
			messages.map((message) => ({
				atMs: nowMs,
				actor: "escalation",
				action: message.text.endsWith(".supervisor") ? "supervisor told" : "reminded again",
				subjectKind: "task",
				subjectId: message.taskId as string,
				areaId: null,
				detail: { recipientId: message.recipientId, ...withoutNames(message.fill) },
			})),
		);
	}

	private ladderOf({ kind, brief }: Unanswered, policy: Policy) {
		return ladderOf(policy, kind, this.kinds.named(kind).isUrgent(JSON.parse(brief) as Brief));
	}

	private messagesOf(
		task: Unanswered,
		climb: Climb,
		people: ReadonlyMap<string, Reachable>,
		{ messages: { lateAt }, urgentBreaksQuietHours }: Policy,
		nowMs: number,
	): NewMessage[] {
		const kind = this.kinds.named(task.kind);
		const { texts } = kind;
		const brief = JSON.parse(task.brief) as Brief;
		const isUrgent = kind.isUrgent(brief);
		const ids = { assignee: task.assigneeId, supervisor: task.supervisorId, "health office": task.officeId };
		return climb.steps.flatMap(({ number, to, channels, ...rung }) => {
			const person = people.get(ids[to] ?? "");
			if (!person) return [];
			const isHers = person.id === task.assigneeId;
			const urgent = rung.urgent || isUrgent;
			const usual = isHers || urgent ? notBeforeMs(person, nowMs) : onceADayMs(person, lateAt, nowMs);
			const fill = { ...brief, code: task.code, name: task.assigneeName ?? "-" };
			return [
				{
					id: this.ids.next(),
					idempotencyKey: `${task.id}.${number}.${person.id}`,
					taskId: task.id,
					recipientId: person.id,
					// A supervisor who stands in for a volunteer isn't told that she herself hasn't answered.
					text: isHers ? texts.again : texts.supervisor,
					fill: { ...fill, hours: Math.round((nowMs - task.openedAtMs) / HOUR_MS) },
					urgent,
					createdAtMs: nowMs,
					// What is late in others' hands is told once a day, all together.
					notBeforeMs: rung.urgent && urgentBreaksQuietHours ? nowMs : usual,
					channels: channels && preferred(channels, person.channels),
				},
			];
		});
	}
}

/** The person's own channels, those first that a step of the ladder asks for; a channel that she hasn't is no way to her. */
function preferred(asked: readonly string[], own: readonly string[]): readonly string[] | null {
	const first = asked.filter((name) => own.includes(name));
	return first.length === 0 ? null : [...first, ...own.filter((name) => !first.includes(name))];
}
