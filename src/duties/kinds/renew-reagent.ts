import { RENEW_REAGENT } from "../../generators/due-kinds.js";
import { lotLife, registerLot } from "../../generators/kit-lots.js";
import { KitLotRow } from "../../generators/kit-rows.js";
import { placeholders } from "../../store/sql.js";
import { only, type Transaction } from "../../store/unit-of-work.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
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

type DueLot = KitLotRow & { readonly timeZone: string };

/** Reagent nears the day on which it isn't trusted any more: its holder fetches a new lot. */
export class RenewReagent extends DutyKind {
	readonly name = RENEW_REAGENT;
	readonly texts = { first: "reagent.first", again: "reagent.again", supervisor: "reagent.supervisor" } as const;

	constructor(private readonly ids: Ids) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy, nowMs }: Moment): Promise<(Opening | Postponement)[]> {
		const lots = await tx.query<DueLot>(
			`SELECT l.*, a.time_zone FROM kit_lot l JOIN area a ON a.id = l.area_id WHERE l.id IN (${placeholders(due.length)})`,
			due.map(({ subjectId }) => subjectId),
		);
		const byId = new Map(lots.map((lot) => [lot.id, lot]));
		return due.map((subject) => {
			const lot = byId.get(subject.subjectId);
			if (lot?.state !== "in use") return { subject, dueAtMs: null };
			const life = lotLife(lot, lot.timeZone, policy.generators.reagents);
			if (life.renewAtMs > nowMs) return { subject, dueAtMs: life.renewAtMs };
			return {
				subject,
				assigneeId: lot.holderId,
				why: `lot ${lot.lot} isn't used from ${life.useUntilOn} on (${life.reason})`,
				brief: {
					kit: lot.kit,
					lot: lot.lot,
					reagent: lot.code,
					useUntilOn: life.useUntilOn,
					reason: life.reason,
					openedOn: lot.openedOn ?? "-",
					expiresOn: lot.expiresOn,
					openedDays: policy.generators.reagents.openedDays,
				},
			};
		});
	}

	override overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		return noLongerDue(this, tx, due, moment, "the lot was renewed or used up");
	}

	guidance(brief: Brief): Guidance {
		return {
			why: brief["reason"] === "opened" ? "renew.why.opened" : "renew.why.expires",
			steps: ["renew.fetch", "renew.look", "renew.write", "renew.keep"],
			cautions: bleachCautions("caution.noFingers"),
			answerWith: "renew.answer",
			asks: { number: "expiry", done: true },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const reagent = String(task.brief["reagent"]);
		if (answer.kind === "cannot") return notDone(reagent, moment);
		const [lot] = await tx.query<DueLot>(
			`SELECT l.*, a.time_zone FROM kit_lot l JOIN area a ON a.id = l.area_id WHERE l.id = $1`,
			[task.subjectId],
		);
		const old = only(lot ? [lot] : []);
		const today = localDateOf(moment.nowMs, old.timeZone);
		const expiresOn = answer.kind === "reading" ? firstDayAfter(answer.reading) : null;
		if (answer.kind === "reading" && (expiresOn === null || expiresOn <= today))
			return refused("reply.outOfScale", {
				scale: `${today.slice(2, 7).replace("-", "")}-9912`,
				example: `${task.code} ${Number(today.slice(2, 4)) + 2}06`,
			});
		await tx.manager.update(KitLotRow, { id: old.id }, { state: "replaced" });
		if (expiresOn === null)
			return {
				accepted: true,
				state: "done",
				outcome: { renewed: true, newLot: null },
				tell: { text: "work.done", fill: {}, urgent: false },
				tellSupervisor: { text: "reagent.new.supervisor", fill: { lot: old.lot }, urgent: false },
				nextDueAtMs: null,
			};
		const code = await nextCode(tx, old.code);
		const { kit, areaId, holderId } = old;
		// The maker's number is on the pack; the office may put it on file later.
		const next = { code, kit, lot: "not told", areaId, holderId, receivedOn: today, expiresOn, openedOn: null };
		await registerLot(tx, this.ids, next, moment, byPersonId ?? "office");
		return {
			accepted: true,
			state: "done",
			outcome: { renewed: true, newLot: code, expiresOn },
			tell: { text: "work.done", fill: {}, urgent: false },
			nextDueAtMs: null,
		};
	}
}

/** @returns the first day after a month that is written as year and month, `2806` gives '2028-07-01'; null where it isn't one */
function firstDayAfter(written: string): string | null {
	const [, year, month] = /^(\d\d)(0[1-9]|1[0-2])$/.exec(written) ?? [];
	if (!year || !month) return null;
	return new Date(Date.UTC(2000 + Number(year), Number(month), 1)).toISOString().slice(0, 10);
}

/** `KIT-1` is followed by `KIT-1.2`, that by `KIT-1.3`. */
async function nextCode(tx: Transaction, code: string): Promise<string> {
	const [, stem = code, number] = /^(.*)\.(\d+)$/.exec(code) ?? [];
	for (let n = Number(number ?? 1) + 1; ; n++) {
		const [taken] = await tx.query("SELECT id FROM kit_lot WHERE code = $1", [`${stem}.${n}`]);
		if (!taken) return `${stem}.${n}`;
	}
}
