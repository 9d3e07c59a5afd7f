import { Entity, ForeignKey, Index } from "typeorm";
import { GeneratorRow } from "../generators/rows.js";
import { AreaRow, PersonRow } from "../programme/rows.js";
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

/** When a volunteer will need bleach and how much, as it was reckoned when a fact about her stock last changed. */
@Entity("bleach_want")
@Index("bleach_want_generator", ["generatorId", "wantAtMs"])
export class BleachWantRow {
	@ForeignKey(() => PersonRow) @IdColumn() volunteerId!: string;
	/** The generator whose production point she collects from; none: there is none that she can reach. */
	@ForeignKey(() => GeneratorRow) @TextColumn(optional) generatorId!: string | null;
	/** When her stock will have fallen to the level at which she collects. */
	@InstantColumn(optional) wantAtMs!: number | null;
	@WholeColumn() volumeMl!: number;
	@RealColumn() chlorineGPerDay!: number;
	/** When her stock will be used up or too weak, if she collects nothing. */
	@InstantColumn(optional) outAtMs!: number | null;
	@InstantColumn() reckonedAtMs!: number;
}
