import { Entity, Index } from "typeorm";
import { IdColumn, InstantColumn, optional, TextColumn, WholeColumn } from "../../store/columns.js";
import { SealedTextColumn } from "../../store/sealing/sealed-columns.js";

/** A request that bore an Idempotency-Key: at work, or answered. */
@Entity("idempotency_key")
export class IdempotencyKeyRow {
	/** Hash of who asked, which route, and the key: a key is somebody's own. */
	@IdColumn() id!: string;
	/** Hash of the address and the body; none: the body is still coming in. */
	@TextColumn(optional) fingerprint!: string | null;
	/** At work until then at most; none: answered. */
	@InstantColumn(optional) leaseUntilMs!: number | null;
	@Index("idempotency_key_keep") @InstantColumn() keepUntilMs!: number;
	@WholeColumn(optional) status!: number | null;
	/** The body of the answer, JSON. */
	@SealedTextColumn(optional) answer!: string | null;
}
