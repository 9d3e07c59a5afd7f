import { Entity } from "typeorm";
import { IdColumn, InstantColumn, JsonColumn } from "../store/columns.js";

/** One night's clearing of what was kept long enough: how far it went, and how much it cleared. */
@Entity("clearing")
export class ClearingRow {
	/** The day, in UTC: 'YYYY-MM-DD'. */
	@IdColumn() id!: string;
	@InstantColumn() atMs!: number;
	/** Before which instant everything is cleared, by what it is. */
	@JsonColumn() until!: Record<string, number>;
	@JsonColumn() cleared!: Record<string, number>;
}
