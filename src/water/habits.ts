import { Entity, ForeignKey } from "typeorm";
import { HouseholdRow, type Turbidity } from "../programme/rows.js";
import { IdColumn, InstantColumn, optional, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";

/** How a household uses water, as far as it was asked; what is null is the programme's. */
@Entity("household_water")
export class HouseholdWaterRow {
	@ForeignKey(() => HouseholdRow) @IdColumn() householdId!: string;
	@RealColumn(optional) drinkingLPerPersonDay!: number | null;
	@RealColumn(optional) foodLPerPersonDay!: number | null;
	@RealColumn(optional) hygieneLPerPersonDay!: number | null;
	/** Hours from one filling of a container to the next. */
	@RealColumn(optional) refillEveryHours!: number | null;
	/** The months, both included, in which the water comes from another source; from may be later in the year than until. */
	@WholeColumn(optional) seasonFromMonth!: number | null;
	@WholeColumn(optional) seasonUntilMonth!: number | null;
	@TextColumn(optional) seasonSource!: string | null;
	@TextColumn(optional) seasonTurbidity!: Turbidity | null;
	/** None: they came in by a file, of which the ledger tells. */
	@InstantColumn(optional) changedAtMs?: number | null;
}

export type WaterHabits = Partial<Omit<HouseholdWaterRow, "householdId" | "changedAtMs">>;
