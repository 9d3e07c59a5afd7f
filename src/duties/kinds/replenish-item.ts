import { REPLENISH } from "../../stock/due-work.js";
import { type LevelledItem, levelledItems, moveItem } from "../../stock/items.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Ids } from "../../time/ids.js";
import { amountOf } from "../amount.js";
import { bleachCautions } from "../cautions.js";
import {
	type Answered,
	type Brief,
	type DueSubject,
	DutyKind,
	type Guidance,
	type Moment,
	type Opening,
	type Overtaken,
	type Postponement,
	type TaskAnswer,
} from "../kind.js";
import { noLongerDue } from "../no-longer-due.js";
import { notDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** Salt, reagent or gear runs low or expires: its holder gets it anew. */
export class ReplenishItem extends DutyKind {
	readonly name = REPLENISH;
	readonly texts = { first: "replenish.first", again: "replenish.again", supervisor: "replenish.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const items = await levelledItems(
			tx,
			due.map(({ subjectId }) => subjectId),
			policy,
			nowMs,
		);
		return due.map((subject) => {
			const item = items.get(subject.subjectId);
			const dueAtMs = item?.levels.dueAtMs ?? null;
			if (!item || dueAtMs === null || dueAtMs > nowMs) return { subject, dueAtMs };
			return openingOf(subject, item);
		});
	}

	override overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		return noLongerDue(this, tx, due, moment, "there is enough of it again");
	}

	guidance(brief: Brief): Guidance {
		const isExpiring = brief["because"] === "expires";
		return {
			why: isExpiring ? "replenish.why.expires" : "replenish.why.low",
			steps: [
				"replenish.get",
				brief["kind"] === "salt" ? "replenish.salt" : "replenish.date",
				...(isExpiring ? (["replenish.aside"] as const) : []),
			],
			cautions: bleachCautions(),
			answerWith: "replenish.answer",
			asks: { number: "pieces", planned: Number(brief["quantity"]), unit: String(brief["unit"]), done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const { nowMs, policy } = moment;
		if (answer.kind === "cannot") return notDone(String(task.brief["item"]), moment);
		const planned = Number(task.brief["quantity"]);
		const quantity = amountOf(answer, planned);
		if (!(Number.isInteger(quantity) && quantity >= 1 && quantity <= 1_000_000))
			return refused("replenish.unclear", { example: `${task.code} ${planned}` });
		const note = `task ${task.code}`;
		// What has expired doesn't count any more; the date of what has come is for the office to put on file.
		if (task.brief["because"] === "expires" && Number(task.brief["held"]) > 0) {
			const [item] = await tx.query<{ held: number }>("UPDATE stock_item SET expires_on = NULL WHERE id = $1 RETURNING held", [
				task.subjectId,
			]);
			if (item && item.held > 0)
				await moveItem(
					tx,
					this.ids,
					task.subjectId,
					{ kind: "thrown away", quantity: item.held, atMs: nowMs, byPersonId, note },
					nowMs,
				);
		}
		await moveItem(tx, this.ids, task.subjectId, { kind: "received", quantity, atMs: nowMs, byPersonId, note }, nowMs);
		const levels = (await levelledItems(tx, [task.subjectId], policy, nowMs)).get(task.subjectId)?.levels;
		const { item, unit } = task.brief as { item: string; unit: string };
		return {
			accepted: true,
			state: "done",
			outcome: { received: quantity, unit },
			tell: { text: "replenish.noted", fill: { item, quantity }, urgent: false },
			nextDueAtMs: levels?.dueAtMs == null ? null : Math.max(levels.dueAtMs, nowMs + 1),
		};
	}
}

function openingOf(subject: DueSubject, item: LevelledItem): Opening {
	const { levels } = item;
	return {
		subject,
		assigneeId: item.askedId,
		why: `${levels.because}: ${item.held} ${item.unit} of ${item.kind}, reorder level ${levels.reorderAt}`,
		brief: {
			item: item.code,
			kind: item.kind,
			held: item.held,
			unit: item.unit,
			reorderAt: levels.reorderAt,
			orderUpTo: levels.orderUpTo,
			quantity: levels.order,
			because: levels.because,
			expiresOn: item.expiresOn ?? "-",
		},
	};
}
