import { Entity, ForeignKey, Index } from "typeorm";
import { HouseholdRow } from "../../programme/rows.js";
import { IdColumn, InstantColumn, JsonColumn, TextColumn, WholeColumn } from "../../store/columns.js";
import type { Finding } from "./finding.js";
import type { Protocol } from "./protocol.js";

/** A protocol that was accepted. Never changed: a change is a new version. */
@Entity("protocol_version")
@Index("protocol_version_once", ["code", "version"], { unique: true })
export class ProtocolVersionRow {
	@IdColumn() id!: string;
	@TextColumn() code!: string;
	@WholeColumn() version!: number;
	@TextColumn() title!: string;
	@JsonColumn() body!: Protocol;
	/** What the checker said of it when it was accepted. */
	@JsonColumn() findings!: readonly Finding[];
	@InstantColumn() acceptedAtMs!: number;
}

/** The version that a household follows until it is moved. */
@Entity("household_protocol")
export class HouseholdProtocolRow {
	@ForeignKey(() => HouseholdRow) @IdColumn() householdId!: string;
	@Index("household_protocol_version") @ForeignKey(() => ProtocolVersionRow) @TextColumn() protocolVersionId!: string;
	@InstantColumn() sinceMs!: number;
}

/** Which version households begin with, and since when; the latest one holds. Only ever added to. */
@Entity("protocol_default")
export class ProtocolDefaultRow {
	@IdColumn() id!: string;
	@ForeignKey(() => ProtocolVersionRow) @TextColumn() protocolVersionId!: string;
	@InstantColumn() sinceMs!: number;
}
