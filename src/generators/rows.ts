import { Entity, ForeignKey, Index } from "typeorm";
import { AreaRow } from "../programme/rows.js";
import { FlagColumn, IdColumn, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";

/** A cell, or several in series, that makes hypochlorite from brine. */
@Entity("generator")
export class GeneratorRow {
	@IdColumn() id!: string;
	@Index("generator_code", { unique: true }) @TextColumn() code!: string;
	@TextColumn() name!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@RealColumn() ratedCurrentA!: number;
	@WholeColumn() cellsInSeries!: number;
	/** Share of the current that ends as chlorine, 0 to 1. */
	@RealColumn() currentEfficiency!: number;
	@RealColumn() batchVolumeL!: number;
	@RealColumn() saltGPerL!: number;
	@FlagColumn() inService!: boolean;
}
