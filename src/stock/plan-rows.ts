import { Entity, ForeignKey, Index } from "typeorm";
import { GeneratorRow } from "../generators/rows.js";
import { AreaRow } from "../programme/rows.js";
import { IdColumn, InstantColumn, JsonColumn, optional, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";
import type { ProductionPlan } from "./production-plan.js";

/** What a generator is to make, and why. */
@Entity("production_plan")
@Index("production_plan_area", ["areaId", "byMs"])
@Index("production_plan_current", ["generatorId"], { unique: true, where: "ended_at_ms IS NULL" })
export class ProductionPlanRow {
	@IdColumn() id!: string;
	@ForeignKey(() => GeneratorRow) @TextColumn() generatorId!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@InstantColumn() plannedAtMs!: number;
	/** When the bleach must be there. */
	@InstantColumn() byMs!: number;
	@WholeColumn() runs!: number;
	@RealColumn() litres!: number;
	@JsonColumn() plan!: ProductionPlan;
	@InstantColumn(optional) endedAtMs!: number | null;
	@TextColumn(optional) endedBecause!: "made" | "planned anew" | "nothing is needed" | null;
}
