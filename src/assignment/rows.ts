import { Entity, ForeignKey, Index, PrimaryColumn } from "typeorm";
import { AreaRow, HouseholdRow, PersonRow } from "../programme/rows.js";
import { IdColumn, InstantColumn, JsonColumn, optional, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";

/** What a volunteer can take on, and where her rounds begin; what isn't said is the programme's usual, her area's middle. */
@Entity("volunteer_capacity")
export class VolunteerCapacityRow {
	@ForeignKey(() => PersonRow) @PrimaryColumn({ type: "text" }) personId!: string;
	@RealColumn(optional) latitudeDeg!: number | null;
	@RealColumn(optional) longitudeDeg!: number | null;
	@WholeColumn(optional) mostHouseholds!: number | null;
	@RealColumn(optional) mostLitresPerDay!: number | null;
	@RealColumn(optional) mostHoursPerWeek!: number | null;
	/** Working hours, 'HH:MM' local. */
	@TextColumn(optional) worksFrom!: string | null;
	@TextColumn(optional) worksUntil!: string | null;
	@InstantColumn() changedAtMs!: number;
}

/** Whom a household needs. */
@Entity("household_care")
export class HouseholdCareRow {
	@ForeignKey(() => HouseholdRow) @PrimaryColumn({ type: "text" }) householdId!: string;
	/** BCP 47. */
	@TextColumn(optional) language!: string | null;
	/** The only volunteer whom it may be proposed to. */
	@ForeignKey(() => PersonRow) @TextColumn(optional) staysWithId!: string | null;
	@InstantColumn() changedAtMs!: number;
}

export type AbsenceReason = "ill" | "on leave" | "left";

/** A volunteer who is away, or has left for good. */
@Entity("absence")
@Index("absence_one_open", ["personId"], { unique: true, where: "returned_at_ms IS NULL" })
@Index("absence_next", ["nextAtMs"], { where: "next_at_ms IS NOT NULL" })
export class AbsenceRow {
	@IdColumn() id!: string;
	@Index("absence_person") @ForeignKey(() => PersonRow) @TextColumn() personId!: string;
	@TextColumn() reason!: AbsenceReason;
	/** 'YYYY-MM-DD' in her area's zone. */
	@TextColumn() fromOn!: string;
	/** The last day; none: not known, or for good. */
	@TextColumn(optional) untilOn!: string | null;
	@InstantColumn() recordedAtMs!: number;
	@InstantColumn(optional) returnedAtMs!: number | null;
	/** Who gets everything on the first day; none: it is proposed. */
	@ForeignKey(() => PersonRow) @TextColumn(optional) toId!: string | null;
	/** When it was handed over, or proposed; none: the first day is still to come. */
	@InstantColumn(optional) beganAtMs!: number | null;
	/** When it begins or ends by itself; none: never, or that is over. */
	@InstantColumn(optional) nextAtMs!: number | null;
}

/** One thing that was given to somebody else because of an absence, so that it can be given back. */
@Entity("handed_over")
export class HandedOverRow {
	@IdColumn() id!: string;
	@Index("handed_over_absence") @ForeignKey(() => AbsenceRow) @TextColumn() absenceId!: string;
	@TextColumn() kind!: "household" | "jar" | "generator" | "task";
	@TextColumn() subjectId!: string;
	@ForeignKey(() => PersonRow) @TextColumn() toId!: string;
	@InstantColumn() atMs!: number;
}

/** `solving` becomes `open` (to be looked at), or ends as `stopped`; an open one is accepted or rejected. */
export type ProposalState = "solving" | "open" | "accepted" | "rejected" | "stopped";

/** A proposal of who looks after whom in an area, or of who takes over from a volunteer who is away. */
@Entity("assignment_proposal")
export class ProposalRow {
	@IdColumn() id!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@ForeignKey(() => AbsenceRow) @TextColumn(optional) absenceId!: string | null;
	@TextColumn() state!: ProposalState;
	/** Counts its changes. */
	@WholeColumn() version!: number;
	@Index("assignment_proposal_asked") @InstantColumn() askedAtMs!: number;
	/** A process that was solving it and hasn't told by then isn't there any more. */
	@InstantColumn() deadlineMs!: number;
	@InstantColumn(optional) closedAtMs!: number | null;
	/** Who gets jars and tasks of the absent volunteer that belong to no household. */
	@ForeignKey(() => PersonRow) @TextColumn(optional) restToId!: string | null;
	/** How it was found: by what, bound, remark, what is left over. */
	@JsonColumn(optional) summary!: Record<string, unknown> | null;
}

export type LineState = "proposed" | "by hand" | "left over" | "applied";

/** One household in a proposal. */
@Entity("assignment_proposal_line")
export class ProposalLineRow {
	@ForeignKey(() => ProposalRow) @PrimaryColumn({ type: "text" }) proposalId!: string;
	@ForeignKey(() => HouseholdRow) @PrimaryColumn({ type: "text" }) householdId!: string;
	/** Who had it when it was proposed. */
	@ForeignKey(() => PersonRow) @TextColumn(optional) fromId!: string | null;
	@ForeignKey(() => PersonRow) @TextColumn(optional) toId!: string | null;
	/** Straight line from her place, km. */
	@RealColumn(optional) fromKm!: number | null;
	@RealColumn(optional) toKm!: number | null;
	@TextColumn() state!: LineState;
}
