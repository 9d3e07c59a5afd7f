import { Entity, ForeignKey, Index } from "typeorm";
import { PERSONAL_FILLINGS } from "../messages/text-names.js";
import { AreaRow, PersonRow } from "../programme/rows.js";
import { IdColumn, InstantColumn, JsonColumn, optional, TextColumn, WholeColumn } from "../store/columns.js";
import { SealedJsonColumn } from "../store/sealing/sealed-columns.js";

/** Open until it is answered; `cannot` is an answer too; `withdrawn` when it isn't needed any more. */
export type TaskState = "open" | "done" | "cannot" | "withdrawn";

/** One piece of due work for one person. */
@Entity("task")
@Index("task_once", ["kind", "subjectId", "cycle"], { unique: true })
@Index("task_one_open", ["kind", "subjectId"], { unique: true, where: "state = 'open'" })
@Index("task_code_closed", ["code"], { where: "state <> 'open'" })
@Index("task_code_open", ["code"], { unique: true, where: "state = 'open'" })
@Index("task_next_step", ["nextStepAtMs"], { where: "next_step_at_ms IS NOT NULL" })
@Index("task_assignee", ["assigneeId", "state"])
export class TaskRow {
	@IdColumn() id!: string;
	/** What is typed on a phone; unique among the open ones. */
	@TextColumn() code!: string;
	@TextColumn() kind!: string;
	@TextColumn() subjectId!: string;
	@WholeColumn() cycle!: number;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@ForeignKey(() => PersonRow) @TextColumn(optional) assigneeId!: string | null;
	@TextColumn() state!: TaskState;
	@InstantColumn() dueAtMs!: number;
	@InstantColumn() openedAtMs!: number;
	/** The figures behind it and what to do, as the kind of work wrote them. */
	@SealedJsonColumn({ holding: PERSONAL_FILLINGS }) brief!: Record<string, unknown>;
	/** Which step of the ladder has been taken, 0 = the first message. */
	@WholeColumn() ladderStep!: number;
	@InstantColumn(optional) nextStepAtMs!: number | null;
	/** From when the steps of the ladder are counted; none: from the opening. Putting it off and handing it over move it. */
	@InstantColumn(optional) ladderFromMs!: number | null;
	/** How often its assignee has put it off; none: never. */
	@WholeColumn(optional) putOffTimes!: number | null;
	/** When somebody took over the worry about it: no further step of the ladder is taken. */
	@InstantColumn(optional) acknowledgedAtMs!: number | null;
	@TextColumn(optional) acknowledgedById!: string | null;
	@InstantColumn(optional) closedAtMs!: number | null;
	@ForeignKey(() => PersonRow) @TextColumn(optional) closedById!: string | null;
	/** What was answered and what followed. */
	@JsonColumn(optional) outcome!: Record<string, unknown> | null;
}

/** How many segments digests have let go in a month while there was a cap: what a release that has summed up the month knows of another. */
@Entity("month_segments")
export class MonthSegmentsRow {
	/** Year and month, UTC. */
	@IdColumn() month!: string;
	@WholeColumn() letGo!: number;
}
