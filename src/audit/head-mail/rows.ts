import { Entity, ForeignKey, Index } from "typeorm";
import { LedgerAnchorRow } from "../../ledger/rows.js";
import { IdColumn, InstantColumn, optional, TextColumn, WholeColumn } from "../../store/columns.js";
import { SealedTextColumn } from "../../store/sealing/sealed-columns.js";

export type LetterState = "waiting" | "sent" | "refused";

/** A head of the ledger on its way to one address. */
@Entity("head_letter")
@Index("head_letter_waiting", ["nextAtMs"], { where: "state = 'waiting'" })
export class HeadLetterRow {
	@IdColumn() id!: string;
	@ForeignKey(() => LedgerAnchorRow) @TextColumn() anchorId!: string;
	@SealedTextColumn() address!: string;
	@TextColumn() state!: LetterState;
	@WholeColumn() tries!: number;
	/** Not tried before; while somebody tries it, the end of her claim. */
	@InstantColumn() nextAtMs!: number;
	@InstantColumn(optional) endedAtMs!: number | null;
}
