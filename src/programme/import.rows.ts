import { Entity, Index } from "typeorm";
import { IdColumn, InstantColumn, TextColumn, WholeColumn } from "../store/columns.js";

/** A file that was taken in whole; the same content is known again by its SHA-256. */
@Entity("import_file")
@Index("import_file_once", ["kind", "sha256"], { unique: true })
export class ImportFileRow {
	@IdColumn() id!: string;
	@TextColumn() kind!: string;
	@TextColumn() sha256!: string;
	@WholeColumn() rows!: number;
	@InstantColumn() importedAtMs!: number;
}
