import { Entity, ForeignKey, Index } from "typeorm";
import { AreaRow, PersonRow } from "../programme/rows.js";
import { FlagColumn, IdColumn, InstantColumn, optional, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";

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
	/** Who runs and cares for it; none: the area's supervisor is asked. */
	@ForeignKey(() => PersonRow) @TextColumn(optional) operatorId?: string | null;
	/** Where it stands; none: the middle of its area is taken. */
	@RealColumn(optional) latitudeDeg?: number | null;
	@RealColumn(optional) longitudeDeg?: number | null;
}

export type CareWork = "rinsed" | "inspected" | "descaled" | "electrode replaced" | "salt corrected" | "electrode asked for";
/** What an inspection saw. */
export type ElectrodeLook = "clean" | "scale" | "damage";

/** Something that was done for a generator. */
@Entity("generator_care")
@Index("generator_care_generator", ["generatorId", "doneAtMs"])
export class GeneratorCareRow {
	@IdColumn() id!: string;
	@ForeignKey(() => GeneratorRow) @TextColumn() generatorId!: string;
	@TextColumn() work!: CareWork;
	@InstantColumn() doneAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) byPersonId!: string | null;
	@TextColumn(optional) taskId!: string | null;
	/** Of an inspection. */
	@TextColumn(optional) look!: ElectrodeLook | null;
}

/** A time in which a generator made nothing. */
@Entity("generator_outage")
@Index("generator_outage_open", ["generatorId"], { unique: true, where: "until_ms IS NULL" })
export class GeneratorOutageRow {
	@IdColumn() id!: string;
	@Index("generator_outage_generator") @ForeignKey(() => GeneratorRow) @TextColumn() generatorId!: string;
	@InstantColumn() fromMs!: number;
	@InstantColumn(optional) untilMs!: number | null;
	@TextColumn() reason!: string;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) byPersonId!: string | null;
}

/** A 12 V lead-acid battery as its label rates it. */
@Entity("battery")
export class BatteryRow {
	@IdColumn() id!: string;
	@Index("battery_code", { unique: true }) @TextColumn() code!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	/** Which generator it feeds. */
	@Index("battery_generator") @ForeignKey(() => GeneratorRow) @TextColumn(optional) generatorId!: string | null;
	@RealColumn() ratedAh!: number;
	/** Hours that the label's capacity is rated at. */
	@RealColumn() ratedHours!: number;
	@RealColumn() peukertExponent!: number;
	@FlagColumn() inUse!: boolean;
	@InstantColumn() sinceMs!: number;
}

/** A battery's voltage at rest. */
@Entity("battery_reading")
@Index("battery_reading_battery", ["batteryId", "readAtMs"])
export class BatteryReadingRow {
	@IdColumn() id!: string;
	@ForeignKey(() => BatteryRow) @TextColumn() batteryId!: string;
	@InstantColumn() readAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@RealColumn() restVoltageV!: number;
	/** Without load or charger before it. */
	@RealColumn() restHours!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) readerId!: string | null;
	@TextColumn(optional) taskId!: string | null;
}

export type BatteryWork = "charged" | "taken out";

/** Something that was done to a battery. */
@Entity("battery_care")
@Index("battery_care_battery", ["batteryId", "doneAtMs"])
export class BatteryCareRow {
	@IdColumn() id!: string;
	@ForeignKey(() => BatteryRow) @TextColumn() batteryId!: string;
	/** Charged: full from then on. Taken out: another one stands in its place. */
	@TextColumn() work!: BatteryWork;
	@InstantColumn() doneAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) byPersonId!: string | null;
	@TextColumn(optional) taskId!: string | null;
}
