import { Entity, ForeignKey, Index } from "typeorm";
import { AreaRow, PersonRow } from "../programme/rows.js";
import { BatchRow, StrengthTestRow } from "../stock/rows.js";
import { IdColumn, InstantColumn, optional, RealColumn, TextColumn } from "../store/columns.js";

export type KitLotState = "in use" | "used up" | "replaced";

/** Reagent of one lot for one kit in one person's hands. Dates are local, 'YYYY-MM-DD'. */
@Entity("kit_lot")
export class KitLotRow {
	@IdColumn() id!: string;
	@Index("kit_lot_code", { unique: true }) @TextColumn() code!: string;
	/** By its name in the list of kits. */
	@TextColumn() kit!: string;
	/** The maker's number on the pack. */
	@TextColumn() lot!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@Index("kit_lot_holder") @ForeignKey(() => PersonRow) @TextColumn(optional) holderId!: string | null;
	@TextColumn() receivedOn!: string;
	@TextColumn() expiresOn!: string;
	@TextColumn(optional) openedOn!: string | null;
	@TextColumn() state!: KitLotState;
}

export type KitComparisonState = "open" | "answered" | "not done";

/** One tester's side of two that read one jar differently; both sides test it again, side by side. */
@Entity("kit_comparison")
@Index("kit_comparison_once", ["testId", "otherTestId"], { unique: true })
export class KitComparisonRow {
	@IdColumn() id!: string;
	@Index("kit_comparison_batch") @ForeignKey(() => BatchRow) @TextColumn() batchId!: string;
	@ForeignKey(() => StrengthTestRow) @TextColumn() testId!: string;
	@ForeignKey(() => StrengthTestRow) @TextColumn() otherTestId!: string;
	@ForeignKey(() => PersonRow) @TextColumn() testerId!: string;
	@ForeignKey(() => PersonRow) @TextColumn() otherTesterId!: string;
	@InstantColumn() foundAtMs!: number;
	/** How far the readings lie apart, in standard deviations of what their errors allow. */
	@RealColumn() apartSd!: number;
	@TextColumn() state!: KitComparisonState;
	/** The test that was taken side by side. */
	@ForeignKey(() => StrengthTestRow) @TextColumn(optional) answerTestId!: string | null;
}
