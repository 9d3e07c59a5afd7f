import { Entity, ForeignKey, Index } from "typeorm";
import { PersonRow } from "../programme/rows.js";
import { BatchRow } from "../stock/rows.js";
import { FlagColumn, IdColumn, InstantColumn, optional, RealColumn, TextColumn } from "../store/columns.js";
import { BatteryRow, GeneratorRow } from "./rows.js";

export type PowerSource = "battery" | "running engine" | "solar panel" | "mains";

/** One run as its log tells it; while it has no end it is still going on. */
@Entity("generator_run")
@Index("generator_run_generator", ["generatorId", "startedAtMs"])
@Index("generator_run_one_going_on", ["generatorId"], { unique: true, where: "ended_at_ms IS NULL" })
export class GeneratorRunRow {
	@IdColumn() id!: string;
	/** Its line in the log. */
	@Index("generator_run_code", { unique: true }) @TextColumn() code!: string;
	@ForeignKey(() => GeneratorRow) @TextColumn() generatorId!: string;
	@ForeignKey(() => PersonRow) @TextColumn(optional) operatorId!: string | null;
	@InstantColumn() startedAtMs!: number;
	@InstantColumn(optional) endedAtMs!: number | null;
	@InstantColumn() recordedAtMs!: number;
	/** Measured into this run; nothing more for further minutes. */
	@RealColumn() saltG!: number;
	@RealColumn() waterL!: number;
	@TextColumn() powerSource!: PowerSource;
	@Index("generator_run_battery") @ForeignKey(() => BatteryRow) @TextColumn(optional) batteryId!: string | null;
	/** Mean current; absent where nobody read it. */
	@RealColumn(optional) currentA!: number | null;
	/** The battery's voltage at rest before the run. */
	@RealColumn(optional) restVoltageV!: number | null;
	/** Bubbles at the electrode; absent where nobody looked. */
	@FlagColumn(optional) gasSeen!: boolean | null;
	/** What it filled; absent while it goes on, and where it made nothing worth keeping. */
	@Index("generator_run_batch") @ForeignKey(() => BatchRow) @TextColumn(optional) batchId!: string | null;
	/** The run whose weak batch these further minutes mend. */
	@Index("generator_run_first") @ForeignKey(() => GeneratorRunRow) @TextColumn(optional) furtherOfRunId!: string | null;
}
