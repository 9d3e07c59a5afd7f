import { Entity } from "typeorm";
import { IdColumn, TextColumn } from "../columns.js";

/** A key under which values rest here, known by its id, and a sealed word that only this key opens. */
@Entity("data_key")
export class DataKeyRow {
	@IdColumn() id!: string;
	@TextColumn() proof!: string;
}

/** A column of which every value is sealed, and which the database itself keeps so. */
@Entity("sealed_column")
export class SealedColumnRow {
	/** `table.column`. */
	@IdColumn() id!: string;
	/** The condition under which the database refuses a value. */
	@TextColumn() guard!: string;
}
