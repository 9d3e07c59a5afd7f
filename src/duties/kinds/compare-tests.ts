import { InputError } from "../../errors/errors.js";
import { APART_SD, testsApartSd } from "../../generators/comparisons.js";
import { COMPARE_TESTS } from "../../generators/due-kinds.js";
import { KitComparisonRow } from "../../generators/kit-rows.js";
import { kitNamed, scaleOf } from "../../stock/kits.js";
import type { BatchParts } from "../../stock/register.js";
import { StrengthTestRow } from "../../stock/rows.js";
import { keepStrengthTest } from "../../stock/strength-tests.js";
import { placeholders } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { afterStrengthTest } from "../after-test.js";
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

interface DueComparison {
	readonly id: string;
	readonly state: string;
	readonly testerId: string;
	readonly apartSd: number;
	readonly jar: string;
	readonly jarState: string;
	readonly name: string;
	readonly otherName: string;
	readonly reading: string;
	readonly lowGPerL: number;
	readonly highGPerL: number | null;
	readonly otherReading: string;
	readonly otherLowGPerL: number;
	readonly otherHighGPerL: number | null;
	readonly kit: string;
	readonly sampleMl: number;
	readonly madeUpToL: number;
}

/** Two people have read one jar quite differently: they test it together, and each answers with her own reading. */
export class CompareTests extends DutyKind {
	readonly name = COMPARE_TESTS;
	readonly texts = { first: "compare.first", again: "compare.again", supervisor: "compare.supervisor" } as const;

	constructor(private readonly parts: BatchParts) {
		super();
	}

	async openings(tx: Transaction, due: readonly DueSubject[], { policy }: Moment): Promise<(Opening | Postponement)[]> {
		const rows = await tx.query<DueComparison & object>(
			`SELECT c.id, c.state, c.tester_id, c.apart_sd, b.code AS jar, b.state AS jar_state, p.name, o.name AS other_name, t.reading, t.kit,
				t.sample_ml, t.made_up_to_l, t.low_g_per_l, t.high_g_per_l, u.reading AS other_reading, u.low_g_per_l AS other_low_g_per_l, u.high_g_per_l AS other_high_g_per_l
			 FROM kit_comparison c JOIN batch b ON b.id = c.batch_id JOIN person p ON p.id = c.tester_id JOIN person o ON o.id = c.other_tester_id
			 JOIN strength_test t ON t.id = c.test_id JOIN strength_test u ON u.id = c.other_test_id WHERE c.id IN (${placeholders(due.length)})`,
			due.map(({ subjectId }) => subjectId),
		);
		const byId = new Map(rows.map((row) => [row.id, row]));
		return due.map((subject) => {
			const row = byId.get(subject.subjectId);
			if (row?.state !== "open" || row.jarState === "discarded" || row.jarState === "empty") return { subject, dueAtMs: null };
			return {
				subject,
				assigneeId: row.testerId,
				why: `readings lie ${row.apartSd.toFixed(1)} standard deviations apart, more than ${APART_SD} is too far`,
				brief: {
					jar: row.jar,
					other: row.otherName,
					reading: row.reading,
					readAs: rangeOf(row.lowGPerL, row.highGPerL),
					otherReadAs: rangeOf(row.otherLowGPerL, row.otherHighGPerL),
					apartSd: Math.round(row.apartSd * 10) / 10,
					kit: row.kit,
					scale: scaleOf(kitNamed(row.kit)),
					sampleMl: row.sampleMl,
					waterL: row.madeUpToL,
					withinHours: policy.generators.compareWithinHours,
				},
			};
		});
	}

	override overtaken(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<Overtaken[]> {
		return noLongerDue(this, tx, due, moment, "the jar is empty or discarded, or the readings were compared");
	}

	guidance(brief: Brief): Guidance {
		return {
			why: "compare.why",
			steps: ["compare.meet", "compare.mix", "compare.read", "compare.show", "compare.own"],
			cautions: bleachCautions("caution.pourTested"),
			answerWith: "retest.answer",
			asks: { number: "colour", scale: String(brief["scale"]) },
		};
	}

	async take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered> {
		const comparison = await tx.manager.findOneByOrFail(KitComparisonRow, { id: task.subjectId });
		if (answer.kind === "cannot") {
			await tx.manager.update(KitComparisonRow, { id: comparison.id }, { state: "not done" });
			return { ...notDone(String(task.brief["jar"]), moment), nextDueAtMs: null };
		}
		const scale = String(task.brief["scale"]);
		if (answer.kind === "done") return refused("reply.unclear", { example: `${task.code} 3` });
		const how = answer.how ?? {
			kit: String(task.brief["kit"]),
			sampleMl: Number(task.brief["sampleMl"]),
			madeUpToL: Number(task.brief["waterL"]),
		};
		let test: StrengthTestRow;
		try {
			const given = {
				...how,
				batchId: comparison.batchId,
				testedAtMs: answer.takenAtMs,
				recordedAtMs: moment.nowMs,
				testerId: byPersonId,
				reading: answer.reading,
				taskId: task.id,
			};
			({ test } = await keepStrengthTest(tx, given, { ...this.parts, policy: moment.policy }));
		} catch (error) {
			if (!(error instanceof InputError) || error.code !== "out-of-scale") throw error;
			return refused("reply.outOfScale", { scale, example: `${task.code} 3` });
		}
		await afterStrengthTest(tx, this.parts.ids, test, moment);
		await tx.manager.update(KitComparisonRow, { id: comparison.id }, { state: "answered", answerTestId: test.id });
		const beside = await this.besideOf(tx, comparison, test);
		return {
			accepted: true,
			state: "done",
			outcome: {
				reading: answer.reading,
				...(beside ? { otherReading: beside.reading, apartSd: beside.apartSd, agree: beside.agree } : {}),
			},
			tell: { text: "work.done", fill: {}, urgent: false },
			...(beside
				? {
						tellSupervisor: {
							text: "compare.result.supervisor",
							fill: { jar: String(task.brief["jar"]), other: String(task.brief["other"]), agree: beside.agree },
							urgent: false,
						},
					}
				: {}),
			nextDueAtMs: null,
		};
	}

	/** @returns how the other side's answer compares, once both have answered */
	private async besideOf(
		tx: Transaction,
		{ testId, otherTestId }: KitComparisonRow,
		test: StrengthTestRow,
	): Promise<{ reading: string; apartSd: number; agree: "yes" | "no" } | undefined> {
		const other = await tx.manager.findOneBy(KitComparisonRow, { testId: otherTestId, otherTestId: testId });
		if (!other?.answerTestId) return undefined;
		const theirs = await tx.manager.findOneByOrFail(StrengthTestRow, { id: other.answerTestId });
		const apartSd = testsApartSd(test, theirs);
		return { reading: theirs.reading, apartSd: Math.round(apartSd * 10) / 10, agree: apartSd > APART_SD ? "no" : "yes" };
	}
}

function rangeOf(lowGPerL: number, highGPerL: number | null): string {
	const shown = (value: number) => Math.round(value * 10) / 10;
	if (highGPerL === null) return `${shown(lowGPerL)} or more`;
	return lowGPerL === highGPerL ? String(shown(lowGPerL)) : `${shown(lowGPerL)} to ${shown(highGPerL)}`;
}
