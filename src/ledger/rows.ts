import { Entity, Index } from "typeorm";
import { IdColumn, InstantColumn, JsonColumn, optional, PositionKeyColumn, TextColumn, WholeColumn } from "../store/columns.js";

/** One change: who, when, what, why, from where. Only ever added. */
@Entity("ledger_entry")
@Index("ledger_subject", ["subjectKind", "subjectId"])
@Index("ledger_at", ["atMs"])
@Index("ledger_household_assigned", ["atMs", "subjectId"], { where: "action = 'household assigned'" })
export class LedgerRow {
	@IdColumn() id!: string;
	@InstantColumn() atMs!: number;
	/** A person's id, or the part of the program that acted. */
	@TextColumn() actor!: string;
	@TextColumn() action!: string;
	@TextColumn() subjectKind!: string;
	@TextColumn() subjectId!: string;
	@TextColumn(optional) areaId!: string | null;
	@JsonColumn() detail!: Record<string, unknown>;
	/** Why. */
	@TextColumn(optional) because!: string | null;
	/** From where; none in entries from before it was kept. */
	@TextColumn(optional) origin!: string | null;
}

/** The entries of one part of a unit of work, kept with it, until they are sealed. */
@Entity("ledger_waiting")
export class LedgerWaitingRow {
	@IdColumn() id!: string;
	/** Of its youngest entry. */
	@InstantColumn() atMs!: number;
	@WholeColumn() entries!: number;
	@JsonColumn() entryIds!: string[];
	/** In the order of the ids. */
	@JsonColumn() digests!: string[];
}

/** A link of the chain: entries in their places for good. Only ever added. */
@Entity("ledger_seal")
export class LedgerSealRow {
	/** Position of its first entry, from 1; the others follow. */
	@PositionKeyColumn() firstPosition!: number;
	@WholeColumn() entries!: number;
	@JsonColumn() entryIds!: string[];
	@JsonColumn() digests!: string[];
	@InstantColumn() sealedAtMs!: number;
	/** Over all of this and the hash of the link before. */
	@TextColumn() hash!: string;
}

/** A head that was given out, to be held against the ledger later. Only ever added. */
@Entity("ledger_anchor")
export class LedgerAnchorRow {
	@IdColumn() id!: string;
	@InstantColumn() position!: number;
	@TextColumn() hash!: string;
	@InstantColumn() givenAtMs!: number;
	/** "printed", "mailed". */
	@TextColumn() how!: string;
}
