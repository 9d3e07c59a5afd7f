import { Entity, ForeignKey, Index } from "typeorm";
import { ContainerRow, PersonRow } from "../programme/rows.js";
import { BatchRow } from "../stock/rows.js";
import { FlagColumn, IdColumn, InstantColumn, JsonColumn, optional, RealColumn, TextColumn } from "../store/columns.js";
import type { FillSoFar } from "./protocol/reading.js";
import { ProtocolVersionRow } from "./protocol/rows.js";

/** Open while its water is in the container. A dose that was only written down later, or came in by file, has no state. */
export type DoseState = "open" | "closed";

/** Bleach that was put into a household's water. */
@Entity("dose")
@Index("dose_batch", ["batchId", "dosedAtMs"])
@Index("dose_one_open", ["containerId"], { unique: true, where: "state = 'open'" })
export class DoseRow {
	@IdColumn() id!: string;
	@Index("dose_container", ["containerId", "dosedAtMs"]) @ForeignKey(() => ContainerRow) @TextColumn() containerId!: string;
	@ForeignKey(() => BatchRow) @TextColumn() batchId!: string;
	@InstantColumn() dosedAtMs!: number;
	@RealColumn() waterL!: number;
	@RealColumn() bleachMl!: number;
	/** From the batch's forecast strength at that time. */
	@RealColumn() doseMgPerL!: number;
	@TextColumn(optional) state?: DoseState | null;
	@InstantColumn(optional) endedAtMs?: number | null;
	@TextColumn(optional) endedBecause?: "refilled" | "used up" | "next dose" | "not fit" | "written down late" | null;
}

/** Why a reading says less than it might. "too early" and "of earlier water" keep it from counting. */
export type CheckFlag =
	| "too early"
	/** It came in after the container had been dosed anew. */
	| "of earlier water"
	| "no dose known"
	| "pH not known"
	| "water temperature not known"
	/** The kit shows this and everything above alike: it is taken as above. */
	| "top of the scale";

/** Free chlorine that was read in a household's stored water. What came in by file has no moment, band or flags. */
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
	@InstantColumn(optional) recordedAtMs?: number | null;
	@TextColumn(optional) doseId?: string | null;
	@TextColumn(optional) protocolVersionId?: string | null;
	/** Code of the protocol's check that it answered. */
	@TextColumn(optional) moment?: string | null;
	/** Code of the band that the reading falls in. */
	@TextColumn(optional) band?: string | null;
	/** None where the reading doesn't count. */
	@FlagColumn(optional) fitToDrink?: boolean | null;
	@JsonColumn(optional) flags?: readonly CheckFlag[] | null;
	@TextColumn(optional) taskId?: string | null;
}

/** Where the water in a container stands in its household's protocol. */
@Entity("container_fill")
export class ContainerFillRow {
	@ForeignKey(() => ContainerRow) @IdColumn() containerId!: string;
	@ForeignKey(() => DoseRow) @TextColumn(optional) doseId!: string | null;
	@ForeignKey(() => ProtocolVersionRow) @TextColumn() protocolVersionId!: string;
	/** None: no check is waited for. */
	@JsonColumn(optional) soFar!: FillSoFar | null;
	/** Since the dose, or since what the last reading asked for was to be done. */
	@InstantColumn(optional) waitingSinceMs!: number | null;
}

/** A container was emptied, scrubbed, rinsed and disinfected. */
@Entity("container_cleaning")
@Index("container_cleaning_container", ["containerId", "cleanedAtMs"])
export class ContainerCleaningRow {
	@IdColumn() id!: string;
	@ForeignKey(() => ContainerRow) @TextColumn() containerId!: string;
	@InstantColumn() cleanedAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) cleanerId!: string | null;
}
