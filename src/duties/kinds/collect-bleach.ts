import { InputError } from "../../errors/errors.js";
import { rounded } from "../../science/rounded.js";
import { type Collected, collect, usableAtPointMl } from "../../stock/collecting.js";
import { COLLECT, productionChanged } from "../../stock/due-work.js";
import { heldJars } from "../../stock/holdings.js";
import type { Calendars } from "../../stock/places.js";
import { keepWants, type Reckoned, reckonStocks } from "../../stock/reckoning.js";
import { sumAt } from "../../stock/restock.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
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
import { cannotBeDone } from "../not-done.js";
import { refused } from "../refused.js";
import type { TaskRow } from "../rows.js";

/** A volunteer's stock has fallen to its reorder level: she collects bleach at the production point. */
export class CollectBleach extends DutyKind {
	readonly name = COLLECT;
	readonly texts = { first: "collect.first", again: "collect.again", supervisor: "collect.supervisor" } as const;

	constructor(
		private readonly ids: Ids,
		private readonly calendars: Calendars,
	) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<(Opening | Postponement)[]> {
		const { reckoned, atPointMl } = await this.reckon(tx, due, moment);
		return due.map((subject) => {
			const stock = reckoned.get(subject.subjectId);
			if (!stock || stock.restock.dueAtMs === null) return { subject, dueAtMs: null };
			const { dueAtMs } = stock.restock;
			if (dueAtMs > moment.nowMs) return { subject, dueAtMs };
			const heldMl = stock.point ? (atPointMl.get(stock.point.generatorId) ?? 0) : 0;
			// Nothing stands there yet: the want is planned for, and she is asked when bleach has come.
			if (stock.point === null || heldMl < moment.policy.stock.collectStepMl)
				return { subject, dueAtMs: moment.nowMs + moment.policy.askAgainDays * DAY_MS };
			return openingOf(subject, stock, Math.min(stock.restock.collectMl, heldMl), moment);
		});
	}

	override async overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		const { reckoned, atPointMl } = await this.reckon(tx, due, moment);
		return due.flatMap((subject): Overtaken[] => {
			const stock = reckoned.get(subject.subjectId);
			const { dueAtMs = null, usableG = 0, reorderG = 0 } = stock?.restock ?? {};
			if (dueAtMs !== null && dueAtMs <= moment.nowMs) {
				// Others have taken it: she doesn't go in vain, and is asked anew when bleach has come.
				const heldMl = atPointMl.get(stock?.point?.generatorId ?? "") ?? 0;
				if (heldMl >= moment.policy.stock.collectStepMl) return [];
				const againAtMs = moment.nowMs + moment.policy.askAgainDays * DAY_MS;
				return [{ subject, dueAtMs: againAtMs, evidence: { because: "nothing usable stands at the point any more", heldMl } }];
			}
			const because = dueAtMs === null ? "nothing is used any more" : "the stock is above its reorder level again";
			return [{ subject, dueAtMs, evidence: { because, usableG: rounded(usableG, 2), reorderG: rounded(reorderG, 2) } }];
		});
	}

	/** Reckons stocks, keeps the wants, and has production planned anew where they have changed. */
	private async reckon(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment) {
		const ids = due.map(({ subjectId }) => subjectId);
		const reckoned = await reckonStocks(tx, this.calendars, ids, policy, nowMs);
		await keepWants(tx, [...reckoned.values()], nowMs);
		const points = [...new Set([...reckoned.values()].flatMap(({ point }) => point?.generatorId ?? []))];
		await productionChanged(tx, points, nowMs);
		const atPointMl = new Map<string, number>();
		const jars = await heldJars(tx, "point", points);
		for (const id of points) {
			const own = jars.filter(({ generatorId }) => generatorId === id);
			atPointMl.set(id, sumAt(own, nowMs, nowMs + policy.stock.collectLeadDays * DAY_MS, policy).ml);
		}
		return { reckoned, atPointMl };
	}

	guidance(brief: Brief): Guidance {
		return {
			why: "collect.why",
			steps: ["collect.take", "collect.draw", "collect.label", "collect.carry", "collect.oldFirst"],
			cautions: bleachCautions("caution.oneMaking"),
			answerWith: "collect.answer",
			asks: { number: "litres", planned: Number(brief["litres"]), done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const planned = Number(task.brief["litres"]);
		if (answer.kind === "cannot")
			return cannotBeDone(
				{ text: "collect.cannot.supervisor", fill: { litres: planned, point: String(task.brief["point"]) } },
				moment,
			);
		const litres = amountOf(answer, planned);
		if (!(litres > 0 && litres <= MOST_L)) return refused("collect.unclear", { example: `${task.code} ${planned}` });
		const volumeMl = await this.takenMl(tx, task, answer, Math.round(litres * 1000), moment);
		const atMs = answer.kind === "reading" ? answer.takenAtMs : moment.nowMs;
		const order = { volunteerId: task.subjectId, generatorId: String(task.brief["generatorId"]), volumeMl, atMs, byPersonId };
		let collected: Collected;
		try {
			collected = await collect(tx, { ids: this.ids, calendars: this.calendars }, order, moment);
		} catch (error) {
			if (!(error instanceof InputError) || error.code !== "more-than-held") throw error;
			return refused("collect.notHeld", { point: String(task.brief["point"]), example: `${task.code} ${planned}` });
		}
		const stock = (await reckonStocks(tx, this.calendars, [task.subjectId], moment.policy, moment.nowMs)).get(task.subjectId);
		if (stock) await keepWants(tx, [stock], moment.nowMs);
		const dueAtMs = stock?.restock.dueAtMs ?? null;
		const nextDueAtMs = dueAtMs === null ? null : Math.max(dueAtMs, moment.nowMs + moment.policy.askAgainDays * DAY_MS);
		const jar = collected.jarCodes.join(", ");
		return {
			accepted: true,
			state: "done",
			outcome: {
				litres: volumeMl / 1000,
				from: collected.fromCodes,
				into: collected.jarCodes,
				usableMl: Math.round(stock?.restock.usableMl ?? 0),
			},
			tell: { text: "collect.noted", fill: { litres: volumeMl / 1000, jar: collected.jarCodes[0] ?? jar }, urgent: false },
			nextDueAtMs,
		};
	}

	/** Who says that it is done has taken what was planned, or what was left of it: others may have come before her. */
	private async takenMl(
		tx: Transaction,
		task: TaskRow,
		answer: TaskAnswer,
		plannedMl: number,
		{ nowMs, policy }: Moment,
	): Promise<number> {
		if (answer.kind !== "done") return plannedMl;
		const heldMl = Math.floor(await usableAtPointMl(tx, String(task.brief["generatorId"]), nowMs, policy));
		return heldMl < policy.stock.collectStepMl ? plannedMl : Math.min(plannedMl, heldMl);
	}
}

/** More than anybody carries home: a slip of the thumb. */
const MOST_L = 50;

function openingOf(
	subject: DueSubject,
	{ restock, point, timeZone }: Reckoned,
	collectMl: number,
	{ nowMs, policy }: Moment,
): Opening {
	const volumeMl = Math.max(
		policy.stock.collectStepMl,
		Math.floor(collectMl / policy.stock.collectStepMl) * policy.stock.collectStepMl,
	);
	return {
		subject,
		assigneeId: subject.subjectId,
		why: `${rounded(restock.usableG, 2)} g usable, reorder level ${rounded(restock.reorderG, 2)} g`,
		brief: {
			litres: rounded(volumeMl / 1000, 2),
			point: point?.code ?? "-",
			generatorId: point?.generatorId ?? "-",
			usableMl: Math.round(restock.usableMl),
			usableG: rounded(restock.usableG, 2),
			reorderG: rounded(restock.reorderG, 2),
			forDays: rounded(restock.forDays, 2),
			leadDays: policy.stock.collectLeadDays,
			outOn: localDateOf(restock.outAtMs ?? nowMs, timeZone),
		},
	};
}
