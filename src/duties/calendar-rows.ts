import { Entity, ForeignKey, Index } from "typeorm";
import { PersonRow } from "../programme/rows.js";
import { IdColumn, InstantColumn, optional, TextColumn } from "../store/columns.js";

/** A private address at which a person's calendar reads her due work. */
@Entity("calendar_feed")
export class CalendarFeedRow {
	@IdColumn() id!: string;
	@Index("calendar_feed_person") @ForeignKey(() => PersonRow) @TextColumn() personId!: string;
	/** The secret of the address itself is kept nowhere. */
	@Index("calendar_feed_token", { unique: true }) @TextColumn() tokenSha256!: string;
	@InstantColumn() issuedAtMs!: number;
	@InstantColumn(optional) revokedAtMs!: number | null;
}
