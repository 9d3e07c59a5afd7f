import { Entity, ForeignKey, Index } from "typeorm";
import { GeneratorRow } from "../generators/rows.js";
import { AreaRow, PersonRow } from "../programme/rows.js";
import type { Exposure, Wall } from "../science/exposure.js";
import { IdColumn, InstantColumn, JsonColumn, optional, RealColumn, TextColumn } from "../store/columns.js";
import type { Forecast } from "./forecast.js";

export type PhKnowledge = "not measured" | "strip" | "meter";
export type BatchState = "in use" | "weak" | "discarded";

/** Bleach of one making in one jar, kept by one volunteer in one place. */
@Entity("batch")
export class BatchRow {
	@IdColumn() id!: string;
	@Index("batch_code", { unique: true }) @TextColumn() code!: string;
	@ForeignKey(() => GeneratorRow) @TextColumn(optional) generatorId!: string | null;
	@Index("batch_area") @ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@Index("batch_keeper") @ForeignKey(() => PersonRow) @TextColumn(optional) keeperId!: string | null;
	@InstantColumn() madeAtMs!: number;
	@RealColumn() volumeL!: number;
	/** Strength as made, expected from the run's record, with the standard deviation of its logarithm. */
	@RealColumn() madeStrengthGPerL!: number;
	@RealColumn() madeStrengthLnSd!: number;
	@RealColumn() saltGPerL!: number;
	@RealColumn(optional) ph!: number | null;
	@TextColumn() phKnowledge!: PhKnowledge;
	@TextColumn() wall!: Wall;
	@TextColumn() exposure!: Exposure;
	@RealColumn() litAreaM2!: number;
	@TextColumn() state!: BatchState;
	/** What the facts so far say of it: computed when a fact changes, kept with it. */
	@JsonColumn(optional) forecast!: Forecast | null;
}

/** One measurement of a jar's strength; never changed, never removed. */
@Entity("strength_test")
export class StrengthTestRow {
	@IdColumn() id!: string;
	@Index("strength_test_batch") @ForeignKey(() => BatchRow) @TextColumn() batchId!: string;
	@InstantColumn() testedAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) testerId!: string | null;
	@TextColumn() kit!: string;
	/** So many mL of bleach made up to so many litres of water. */
	@RealColumn() sampleMl!: number;
	@RealColumn() madeUpToL!: number;
	/** What was read on the kit, as it was given. */
	@TextColumn() reading!: string;
	@RealColumn() lowGPerL!: number;
	/** Absent: the reading was off the top of the scale. */
	@RealColumn(optional) highGPerL!: number | null;
	@TextColumn(optional) taskId!: string | null;
	/** Reasons for which somebody should look at it. */
	@JsonColumn() flags!: string[];
}
