import { Entity, ForeignKey, Index } from "typeorm";
import { IdColumn, InstantColumn, optional, TextColumn } from "../store/columns.js";
import { PersonRow } from "./rows.js";

/** records: that name, number and work are kept; messages: that she is written to. */
export type ConsentPurpose = "records" | "messages";
/** How she said it. */
export type ConsentManner = "in person" | "on paper" | "by phone" | "by message" | "on a page";

/** What a person has consented to: to which text, when and how; and when and how she took it back. */
@Entity("consent")
@Index("consent_one", ["personId", "purpose"], { unique: true, where: "withdrawn_at_ms IS NULL" })
export class ConsentRow {
	@IdColumn() id!: string;
	@Index("consent_person") @ForeignKey(() => PersonRow) @TextColumn() personId!: string;
	@TextColumn() purpose!: ConsentPurpose;
	/** Which version of the programme's text she was told or read. */
	@TextColumn() textVersion!: string;
	@TextColumn() obtained!: ConsentManner;
	@InstantColumn() givenAtMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@InstantColumn(optional) withdrawnAtMs!: number | null;
	@TextColumn(optional) withdrawnBy!: ConsentManner | null;
}
