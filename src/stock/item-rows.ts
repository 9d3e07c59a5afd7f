import { Entity, ForeignKey, Index } from "typeorm";
import { GeneratorRow } from "../generators/rows.js";
import { AreaRow, PersonRow } from "../programme/rows.js";
import { IdColumn, InstantColumn, optional, RealColumn, TextColumn, WholeColumn } from "../store/columns.js";

/** What is in stock beside bleach, each counted in whole numbers of its smallest unit. */
export type ItemKind = "salt" | "reagent" | "syringe" | "goggles" | "gloves" | "electrode";
export type ItemUnit = "g" | "drop" | "piece";

/** One kind of thing in one person's hands or at one generator. */
@Entity("stock_item")
export class StockItemRow {
	@IdColumn() id!: string;
	@Index("stock_item_code", { unique: true }) @TextColumn() code!: string;
	@TextColumn() kind!: ItemKind;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	/** Either a person or a generator has it. */
	@Index("stock_item_holder") @ForeignKey(() => PersonRow) @TextColumn(optional) holderId!: string | null;
	@Index("stock_item_generator") @ForeignKey(() => GeneratorRow) @TextColumn(optional) generatorId!: string | null;
	@TextColumn() unit!: ItemUnit;
	/** The sum of its moves. */
	@WholeColumn() held!: number;
	/** Local date of its last good day, 'YYYY-MM-DD'. */
	@TextColumn(optional) expiresOn!: string | null;
	/** Expected use in units a day, where somebody has set it; none: reckoned from plans and tests. */
	@RealColumn(optional) usePerDay!: number | null;
	/** Where somebody has set them; none: reckoned from the use. */
	@WholeColumn(optional) reorderAt!: number | null;
	@WholeColumn(optional) orderUpTo!: number | null;
	@InstantColumn() changedAtMs!: number;
}

export type ItemMoveKind = "received" | "used" | "counted" | "thrown away" | "handed out" | "handed in";

/** What was added to a stock item or taken from it: only ever added. */
@Entity("item_move")
@Index("item_move_item", ["itemId", "atMs"])
export class ItemMoveRow {
	@IdColumn() id!: string;
	@ForeignKey(() => StockItemRow) @TextColumn() itemId!: string;
	@TextColumn() kind!: ItemMoveKind;
	/** More than 0: added. */
	@WholeColumn() quantity!: number;
	@InstantColumn() atMs!: number;
	@InstantColumn() recordedAtMs!: number;
	@ForeignKey(() => PersonRow) @TextColumn(optional) byPersonId!: string | null;
	/** The other side of a handing over. */
	@ForeignKey(() => StockItemRow) @TextColumn(optional) otherItemId!: string | null;
	@TextColumn(optional) reference!: string | null;
}
