import { Entity, ForeignKey, Index, PrimaryColumn } from "typeorm";
import { AreaRow, PersonRow } from "../programme/rows.js";
import { FlagColumn, IdColumn, InstantColumn, JsonColumn, optional, TextColumn, WholeColumn } from "../store/columns.js";
import { SealedTextColumn } from "../store/sealing/sealed-columns.js";
import type { Scope } from "./rules.js";

/** Somebody who signs in by a password: staff of the programme, and administrators, who needn't be among its people. */
@Entity("account")
export class AccountRow {
	@IdColumn() id!: string;
	/** In small letters. */
	@Index("account_login", { unique: true }) @TextColumn() login!: string;
	/** Whose role and area it has. */
	@Index("account_person", { unique: true, where: "person_id IS NOT NULL" })
	@ForeignKey(() => PersonRow)
	@TextColumn(optional)
	personId!: string | null;
	@FlagColumn() administrator!: boolean;
	@FlagColumn() active!: boolean;
	/** PHC string of argon2id; none: not chosen yet. */
	@TextColumn(optional) passwordHash!: string | null;
	@InstantColumn(optional) passwordSetAtMs!: number | null;
	/** Base 32. */
	@SealedTextColumn(optional) totpSecret!: string | null;
	/** Since when it is asked for at sign-in; none: not, or not shown yet to be set up. */
	@InstantColumn(optional) totpSinceMs!: number | null;
	/** The latest step of which a code was taken: none is taken twice. */
	@InstantColumn(optional) totpLastStep!: number | null;
	@InstantColumn() createdAtMs!: number;
}

/** Stands in once for a code of the second factor. */
@Entity("recovery_code")
export class RecoveryCodeRow {
	/** Its hash. */
	@IdColumn() id!: string;
	@Index("recovery_code_account") @ForeignKey(() => AccountRow) @TextColumn() accountId!: string;
	@InstantColumn(optional) usedAtMs!: number | null;
}

/** Somebody is signed in on a device. */
@Entity("session")
export class SessionRow {
	@IdColumn() id!: string;
	@Index("session_token", { unique: true }) @TextColumn() tokenHash!: string;
	@Index("session_account") @ForeignKey(() => AccountRow) @TextColumn(optional) accountId!: string | null;
	@Index("session_person") @ForeignKey(() => PersonRow) @TextColumn(optional) personId!: string | null;
	@InstantColumn() beganAtMs!: number;
	/** When she last showed who she is, by password or code. */
	@InstantColumn() provedAtMs!: number;
	@InstantColumn() usedAtMs!: number;
	@Index("session_ends") @InstantColumn() endsAtMs!: number;
	/** What the browser calls itself, so that she knows it in her list. */
	@TextColumn(optional) device!: string | null;
}

/** A code that was sent to a volunteer's phone. */
@Entity("sign_in_code")
@Index("sign_in_code_person", ["personId", "madeAtMs"])
export class SignInCodeRow {
	@IdColumn() id!: string;
	@ForeignKey(() => PersonRow) @TextColumn() personId!: string;
	@TextColumn() codeHash!: string;
	@TextColumn() messageId!: string;
	/** Wrong ones that were tried against it. */
	@WholeColumn() tries!: number;
	@InstantColumn() madeAtMs!: number;
	@InstantColumn() endsAtMs!: number;
}

/** A link by which the holder of an account chooses a password, once. */
@Entity("account_link")
export class AccountLinkRow {
	/** Hash of its secret. */
	@IdColumn() id!: string;
	@Index("account_link_account") @ForeignKey(() => AccountRow) @TextColumn() accountId!: string;
	@TextColumn(optional) messageId!: string | null;
	@InstantColumn() madeAtMs!: number;
	@InstantColumn() endsAtMs!: number;
}

/** What a program shows instead of signing in. */
@Entity("api_key")
export class ApiKeyRow {
	@IdColumn() id!: string;
	@TextColumn() name!: string;
	@Index("api_key_hash", { unique: true }) @TextColumn() keyHash!: string;
	@JsonColumn() scopes!: Scope[];
	/** Its part of the programme, with all areas below; none: the whole. */
	@ForeignKey(() => AreaRow) @TextColumn(optional) areaId!: string | null;
	@TextColumn() madeBy!: string;
	@InstantColumn() madeAtMs!: number;
	@InstantColumn() endsAtMs!: number;
	@InstantColumn(optional) usedAtMs!: number | null;
	@InstantColumn(optional) revokedAtMs!: number | null;
}

/** A browser in which somebody has signed in to an account: tries from it are counted apart from everybody else's. */
@Entity("known_device")
export class KnownDeviceRow {
	/** Hash of what its cookie holds. */
	@IdColumn() id!: string;
	@Index("known_device_account") @ForeignKey(() => AccountRow) @TextColumn() accountId!: string;
	@InstantColumn() usedAtMs!: number;
}

/** How often something was tried in a while. */
@Entity("throttle")
export class ThrottleRow {
	/** Hash of what is counted: it may hold an address. */
	@IdColumn() id!: string;
	@WholeColumn() count!: number;
	/** Forgotten from then on. */
	@Index("throttle_until") @InstantColumn() untilMs!: number;
}

/** An area that somebody sees to beside her own. */
@Entity("area_duty")
export class AreaDutyRow {
	@ForeignKey(() => PersonRow) @PrimaryColumn({ type: "text" }) personId!: string;
	@ForeignKey(() => AreaRow) @PrimaryColumn({ type: "text" }) areaId!: string;
}
