import { Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import type { Brief } from "../../duties/kind.js";
import { DutyKinds } from "../../duties/kinds.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, utc, utcOf, utcOrNull, yesOrNo } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { textView, viewOfText } from "../messages/text-view.js";
import { taskNamed } from "./task-named.js";

const sorts = {
	"-openedAt": { column: "t.opened_at_ms", property: "openedAtMs", kind: "instant", descending: true },
	openedAt: { column: "t.opened_at_ms", property: "openedAtMs", kind: "instant" },
	dueAt: { column: "t.due_at_ms", property: "dueAtMs", kind: "instant" },
} as const satisfies Record<string, Sort>;

const state = z.enum(["open", "done", "cannot", "withdrawn"]);

const query = pageQuery(sorts, {
	assignee: code.optional().meta({ description: "Code of a person" }),
	state: state.optional(),
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
	late: yesOrNo.optional().meta({ description: "true: open, and reminded of at least once; false: all others" }),
});

const task = z.strictObject({
	code: z.string(),
	kind: z.string(),
	state,
	assigneeCode: z.string().nullable(),
	areaCode: z.string(),
	dueAt: utc,
	openedAt: utc,
	remindedTimes: z.int(),
	acknowledgedAt: utc.nullable().meta({ description: "Since when nobody is reminded, because somebody has taken note" }),
	closedAt: utc.nullable(),
	closedByCode: z.string().nullable().meta({ description: "null where the office answered" }),
});

const briefValue = z.union([z.string(), z.number()]);

const taskInFull = task.extend({
	brief: z.record(z.string(), briefValue).meta({ description: "The figures behind it" }),
	why: z.string(),
	steps: z.array(z.string()),
	cautions: z.array(z.string()),
	answerWith: z.string(),
	outcome: z.record(z.string(), z.unknown()).nullable(),
	message: textView.nullable().meta({
		description:
			"The first text of it as its assignee reads it, with what it costs; null where an older task lacks a figure of it",
	}),
});

const listed = task.meta({ id: "Task" });
const inFull = taskInFull.meta({ id: "TaskInFull" });

export interface TaskListRow {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly state: z.output<typeof state>;
	readonly assigneeCode: string | null;
	readonly areaCode: string;
	readonly dueAtMs: number;
	readonly openedAtMs: number;
	readonly ladderStep: number;
	readonly acknowledgedAtMs: number | null;
	readonly closedAtMs: number | null;
	readonly closedByCode: string | null;
}

const inWords = z.strictObject({
	language: z
		.string()
		.regex(/^[a-z]{2,3}(-[A-Za-z0-9]{2,8}){0,3}$/, "must be a language such as sw or pt-BR")
		.default("en")
		.meta({ description: "Of why, steps, cautions and what to answer; English where there are none in it" }),
});

interface InFull extends TaskListRow {
	readonly brief: string;
	readonly outcome: string | null;
	readonly language: string | null;
	/** Name of the text that told of it first; none: nobody could be told. */
	readonly firstText: string | null;
}

const COLUMNS = `t.id, t.code, t.kind, t.state, p.code AS assignee_code, a.code AS area_code, t.due_at_ms, t.opened_at_ms, t.ladder_step, t.acknowledged_at_ms, t.closed_at_ms, c.code AS closed_by_code`;
const TABLES = `FROM task t JOIN area a ON a.id = t.area_id LEFT JOIN person p ON p.id = t.assignee_id LEFT JOIN person c ON c.id = t.closed_by_id`;

@Controller()
export class TasksController {
	constructor(
		private readonly store: Store,
		private readonly kinds: DutyKinds,
	) {}

	@Endpoint({
		method: "GET",
		path: "/tasks",
		access: "look",
		touches: ["list", "area query.area", "person query.assignee"],
		summary: "Lists tasks",
		answer: { description: "Tasks, the newest first", schema: pageSchema(listed) },
	})
	async listTasks(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const assigneeId = await idIfNamed(this.store, "person", asked.assignee, "assignee");
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(caller.reach.over("task", "t"));
		conditions.addIf(assigneeId, (place, value) => `t.assignee_id = ${place(value)}`);
		conditions.addIf(asked.state, (place, value) => `t.state = ${place(value)}`);
		conditions.addIf(areaId, (place, value) => withinArea("t.area_id", place(value)));
		conditions.addIf(asked.late, (_, late) =>
			late ? "t.state = 'open' AND t.ladder_step > 0" : "(t.state <> 'open' OR t.ladder_step = 0)",
		);
		return pageOf<TaskListRow, z.output<typeof task>>(
			this.store,
			`SELECT ${COLUMNS} ${TABLES}`,
			"t.id",
			sorts,
			asked,
			conditions,
			itemOf,
		);
	}

	@Endpoint({
		method: "GET",
		path: "/tasks/:code",
		access: "look",
		touches: ["task path.code"],
		summary: "Tells one task: why now, what to do step by step, what to be careful of, what to answer",
		answer: { description: "The open task of the code; where none is open, the last one that was", schema: inFull },
	})
	async oneTask(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Query({ schema: inWords }) asked: z.output<typeof inWords>,
	): Promise<z.output<typeof taskInFull>> {
		const { id } = await taskNamed(this.store, named.code);
		const [row] = await this.store.query<InFull>(
			`SELECT ${COLUMNS}, t.brief, t.outcome, p.language,
			(SELECT m.text FROM message m WHERE m.task_id = t.id ORDER BY m.created_at_ms, m.id LIMIT 1) AS first_text ${TABLES} WHERE t.id = $1`,
			[id],
		);
		const { brief, outcome, language, firstText, ...listed } = row as InFull;
		const figures = JSON.parse(brief) as Brief;
		const kind = this.kinds.named(listed.kind);
		const filled = { ...figures, code: listed.code };
		const { why, steps, cautions, answerWith } = kind.instructions(filled, asked.language);
		return {
			...itemOf(listed),
			brief: figures,
			why,
			steps: [...steps],
			cautions: [...cautions],
			answerWith,
			outcome: outcome === null ? null : (JSON.parse(outcome) as Record<string, unknown>),
			message: await viewOfText(this.store, firstText ?? kind.texts.first, filled, language ?? undefined).catch(() => null),
		};
	}
}

function itemOf({
	id: _,
	dueAtMs,
	openedAtMs,
	acknowledgedAtMs,
	closedAtMs,
	ladderStep,
	...item
}: TaskListRow): z.output<typeof task> {
	return {
		...item,
		dueAt: utcOf(dueAtMs),
		openedAt: utcOf(openedAtMs),
		remindedTimes: ladderStep,
		acknowledgedAt: utcOrNull(acknowledgedAtMs),
		closedAt: utcOrNull(closedAtMs),
	};
}
