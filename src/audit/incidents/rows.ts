import { Entity, ForeignKey, Index } from "typeorm";
import { AreaRow } from "../../programme/rows.js";
import { IdColumn, InstantColumn, JsonColumn, optional, TextColumn } from "../../store/columns.js";

/** open > looked into > closed; an open one may be closed at once. */
export type IncidentState = "open" | "looked into" | "closed";

/** Something went wrong that a health office must be able to follow to its end. */
@Entity("incident")
@Index("incident_cause", ["kind", "causeId"], { unique: true })
@Index("incident_open", ["kind", "subjectId"], { unique: true, where: "state <> 'closed'" })
@Index("incident_area", ["areaId", "openedAtMs"])
@Index("incident_untold", ["areaId"], { where: "told_at_ms IS NULL" })
export class IncidentRow {
	@IdColumn() id!: string;
	@TextColumn() kind!: string;
	/** The record that gave rise to it: there is never a second one for it. */
	@TextColumn() causeId!: string;
	/** What it is about: while one is open, what happens to the same subject belongs to it. */
	@TextColumn() subjectKind!: string;
	@TextColumn() subjectId!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@InstantColumn() happenedAtMs!: number;
	@InstantColumn() openedAtMs!: number;
	@TextColumn() state!: IncidentState;
	/** Figures and codes as they were found. */
	@JsonColumn() found!: Record<string, string | number | null>;
	/** When its area's supervisor was told of it with what else was new; none: not yet. */
	@InstantColumn(optional) toldAtMs!: number | null;
	@InstantColumn(optional) lookedIntoAtMs!: number | null;
	/** A person's id; none with an instant: the office. */
	@TextColumn(optional) lookedIntoBy!: string | null;
	@InstantColumn(optional) closedAtMs!: number | null;
	/** A person's id; none: the office, or what came in since. */
	@TextColumn(optional) closedBy!: string | null;
	@TextColumn(optional) closedBecause!: string | null;
}

/** Up to when the records were looked through for incidents of a kind. */
@Entity("incident_look")
export class IncidentLookRow {
	@IdColumn() kind!: string;
	@InstantColumn() untilMs!: number;
}
