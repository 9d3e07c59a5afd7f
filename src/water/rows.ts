import { Entity, ForeignKey, Index } from "typeorm";
import { ContainerRow, PersonRow } from "../programme/rows.js";
import { BatchRow } from "../stock/rows.js";
import { IdColumn, InstantColumn, optional, RealColumn, TextColumn } from "../store/columns.js";

/** Bleach that was put into a household's water. */
@Entity("dose")
export class DoseRow {
	@IdColumn() id!: string;
	@Index("dose_container", ["containerId", "dosedAtMs"]) @ForeignKey(() => ContainerRow) @TextColumn() containerId!: string;
	@ForeignKey(() => BatchRow) @TextColumn() batchId!: string;
	@InstantColumn() dosedAtMs!: number;
	@RealColumn() waterL!: number;
	@RealColumn() bleachMl!: number;
	/** From the batch's forecast strength at that time. */
	@RealColumn() doseMgPerL!: number;
}

/** Free chlorine that was read in a household's stored water. */
@Entity("residual_check")
export class ResidualCheckRow {
	@IdColumn() id!: string;
	@Index("residual_check_container", ["containerId", "checkedAtMs"])
	@ForeignKey(() => ContainerRow)
	@TextColumn()
	containerId!: string;
	@InstantColumn() checkedAtMs!: number;
	@RealColumn() freeChlorineMgPerL!: number;
	@RealColumn(optional) hoursSinceDose!: number | null;
	@ForeignKey(() => PersonRow) @TextColumn(optional) checkerId!: string | null;
}
