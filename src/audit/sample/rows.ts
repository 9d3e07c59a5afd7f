import { Entity, ForeignKey, Index } from "typeorm";
import { AreaRow, HouseholdRow, PersonRow } from "../../programme/rows.js";
import {
	FlagColumn,
	IdColumn,
	InstantColumn,
	JsonColumn,
	optional,
	RealColumn,
	TextColumn,
	WholeColumn,
} from "../../store/columns.js";
import type { SamplePlan } from "./plan.js";

/** A random sample of households, with all that anybody needs to draw it again. Never changed. */
@Entity("audit_sample")
export class AuditSampleRow {
	@IdColumn() id!: string;
	@Index("audit_sample_area") @ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@InstantColumn() drawnAtMs!: number;
	@TextColumn() seed!: string;
	/** Name and version of how it was drawn. */
	@TextColumn() method!: string;
	/** SHA-256 of the frame's text, hexadecimal. */
	@TextColumn() frameSha256!: string;
	@WholeColumn() frameHouseholds!: number;
	/** Wishes, size, rule and risks. */
	@JsonColumn() plan!: SamplePlan;
	/** Days whose readings by volunteers are compared, 'YYYY-MM-DD' in the area's zone. */
	@TextColumn() reportedFrom!: string;
	@TextColumn() reportedTo!: string;
}

/** The list that a sample was drawn from, as it stood then: a line each, area and household with a tab between them. */
@Entity("audit_frame")
export class AuditFrameRow {
	@ForeignKey(() => AuditSampleRow) @IdColumn() sampleId!: string;
	@TextColumn() lines!: string;
}

/** A household to be visited by somebody who doesn't look after it. */
@Entity("audit_visit")
@Index("audit_visit_once", ["sampleId", "householdId"], { unique: true })
@Index("audit_visit_auditor", ["auditorId"])
export class AuditVisitRow {
	@IdColumn() id!: string;
	@ForeignKey(() => AuditSampleRow) @TextColumn() sampleId!: string;
	@ForeignKey(() => HouseholdRow) @TextColumn() householdId!: string;
	/** From 1, in the order of the draw. */
	@WholeColumn() place!: number;
	/** Number of the cluster that it came with, from 1; none in a simple sample. */
	@WholeColumn(optional) cluster!: number | null;
	@ForeignKey(() => PersonRow) @TextColumn() auditorId!: string;
}

export type VisitOutcome = "seen" | "refused" | "absent";

/** What an auditor found. Only ever added: a later one of the same visit corrects the one before. */
@Entity("audit_result")
@Index("audit_result_visit", ["visitId", "recordedAtMs"])
export class AuditResultRow {
	@IdColumn() id!: string;
	@ForeignKey(() => AuditVisitRow) @TextColumn() visitId!: string;
	@TextColumn() outcome!: VisitOutcome;
	@InstantColumn() visitedAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn() byPersonId!: string;
	/** Of a household that was seen; none: there was no water to read. */
	@RealColumn(optional) freeChlorineMgPerL!: number | null;
	/** What the household said of its water, or the auditor saw. */
	@FlagColumn(optional) treated!: boolean | null;
	@FlagColumn(optional) containerSeen!: boolean | null;
	/** Why it corrects an earlier one. */
	@TextColumn(optional) because!: string | null;
}
