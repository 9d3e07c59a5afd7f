import { Entity, ForeignKey, Index } from "typeorm";
import { GeneratorRow } from "../generators/rows.js";
import { AreaRow, HouseholdRow, PersonRow } from "../programme/rows.js";
import type { Exposure, Wall } from "../science/exposure.js";
import { IdColumn, InstantColumn, JsonColumn, optional, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";
import type { Forecast } from "./forecast.js";

export type PhKnowledge = "not measured" | "strip" | "meter";
export type BatchState = "in use" | "weak" | "empty" | "discarded";

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
	/** The household that it stands in; none: its keeper's, or the production point's where it has no keeper. */
	@Index("batch_household") @ForeignKey(() => HouseholdRow) @TextColumn(optional) householdId?: string | null;
	/** The jar that it was poured from, which tells its strength until then. */
	@Index("batch_drawn_from") @ForeignKey(() => BatchRow) @TextColumn(optional) drawnFromId?: string | null;
	@InstantColumn(optional) drawnAtMs?: number | null;
	/** What is in it, microlitres: the sum of its moves. None: none of it has been moved yet, it holds its volume. */
	@WholeColumn(optional) heldUl?: number | null;
	/** Counts what the jar was filled with, one after the other. None: the first. */
	@WholeColumn(optional) fill?: number | null;
	/** Not for drinking water any more: until then it is used up on surfaces. */
	@InstantColumn(optional) setAsideUntilMs?: number | null;
}

/** Where the bleach that is in a jar now has stood, and in which jar; none: it was made into this one, and has never left its place. */
@Entity("jar_stay")
@Index("jar_stay_jar", ["jarId", "fill", "sinceMs"])
export class JarStayRow {
	@IdColumn() id!: string;
	@ForeignKey(() => BatchRow) @TextColumn() jarId!: string;
	@WholeColumn() fill!: number;
	/** Its tests count until the next stay begins. */
	@ForeignKey(() => BatchRow) @TextColumn() inJarId!: string;
	@InstantColumn() sinceMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@ForeignKey(() => PersonRow) @TextColumn(optional) keeperId!: string | null;
	@ForeignKey(() => HouseholdRow) @TextColumn(optional) householdId!: string | null;
	@TextColumn() wall!: Wall;
	@TextColumn() exposure!: Exposure;
	@RealColumn() volumeL!: number;
	@RealColumn() litAreaM2!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) byPersonId!: string | null;
}

/** How bleach got into a jar or out of it. */
export type MoveKind = "made" | "drawn in" | "drawn out" | "used" | "spilt" | "discarded" | "corrected";

/** Bleach that went into a jar or out of it: only ever added, whole microlitres, so that sums hold to the last drop. */
@Entity("stock_move")
@Index("stock_move_jar", ["jarId", "atMs"])
export class StockMoveRow {
	@IdColumn() id!: string;
	@ForeignKey(() => BatchRow) @TextColumn() jarId!: string;
	@TextColumn() kind!: MoveKind;
	/** More than 0: into the jar. */
	@WholeColumn() volumeUl!: number;
	@InstantColumn() atMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) byPersonId!: string | null;
	/** The other jar of a drawing. */
	@ForeignKey(() => BatchRow) @TextColumn(optional) otherJarId!: string | null;
	/** What it was for or came from: the id of a dose, or a few words. */
	@TextColumn(optional) reference!: string | null;
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
