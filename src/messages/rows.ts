import { Entity, ForeignKey, Index } from "typeorm";
import { PersonRow } from "../programme/rows.js";
import {
	FlagColumn,
	IdColumn,
	InstantColumn,
	JsonColumn,
	optional,
	RealColumn,
	TextColumn,
	WholeColumn,
} from "../store/columns.js";
import { notByColumn, SealedJsonColumn, SealedTextColumn } from "../store/sealing/sealed-columns.js";
import { PERSONAL_FILLINGS } from "./text-names.js";

/**
 * waiting > claimed > sent, or back to waiting after a failed try, or failed for good, or withdrawn before it went, or stale: it
 * waited until what it says wasn't true any more. Withheld: it waited in a backup that came back, and somebody must say whether it goes.
 * What tells of work is held until its person may be written to, and then goes by itself or is merged into a digest, which tells of it.
 */
export type MessageState = "held" | "merged" | "waiting" | "claimed" | "sent" | "failed" | "withdrawn" | "stale" | "withheld";

/** The outbox: what is to be told to whom, written in the same unit of work as the reason for it. */
@Entity("message")
@Index("message_key", ["idempotencyKey"], { unique: true })
@Index("message_ready", ["nextTryAtMs", "id"], { where: "next_try_at_ms IS NOT NULL" })
@Index("message_urgent", ["nextTryAtMs", "id"], { where: "urgent AND next_try_at_ms IS NOT NULL" })
@Index("message_order", ["recipientId", "readyAtMs"], { where: "next_try_at_ms IS NOT NULL" })
@Index("message_waiting", ["readyAtMs"], { where: "state = 'waiting' AND NOT urgent" })
@Index("message_ended", ["endedAtMs", "state", "channel"], { where: "ended_at_ms IS NOT NULL" })
@Index("message_task", ["taskId"])
@Index("message_recipient", ["recipientId", "createdAtMs"])
@Index("message_failed", ["channel", "recipientId"], { where: "state = 'failed'" })
@Index("message_held", ["heldUntilMs"], { where: "held_until_ms IS NOT NULL" })
@Index("message_held_person", ["recipientId", "heldUntilMs"], { where: "held_until_ms IS NOT NULL" })
@Index("message_digest", ["digestId"], { where: "digest_id IS NOT NULL" })
export class MessageRow {
	@IdColumn() id!: string;
	/** Goes with every try to the notifier, so that a receiver can know a repeat. */
	@TextColumn() idempotencyKey!: string;
	@TextColumn(optional) taskId!: string | null;
	@ForeignKey(() => PersonRow) @TextColumn() recipientId!: string;
	/** Which text of the catalogue, and what it is filled with. */
	@TextColumn() text!: string;
	@SealedJsonColumn({ holding: PERSONAL_FILLINGS }) fill!: Record<string, unknown>;
	@FlagColumn() urgent!: boolean;
	@TextColumn() state!: MessageState;
	@InstantColumn() createdAtMs!: number;
	/** Since when it could have gone: those for one person go in this order. None: it is held, or the order doesn't matter. */
	@InstantColumn(optional) readyAtMs!: number | null;
	/** Since when it could have gone first; stays when it is held again. None: it has always been held. */
	@InstantColumn(optional) waitsSinceMs!: number | null;
	/** When it may be claimed: waiting for its time, or claimed and its lease runs out then. None: it has ended. */
	@InstantColumn(optional) nextTryAtMs!: number | null;
	/** Grows with each claim; who holds an older one may not record any more. */
	@WholeColumn() claim!: number;
	/** Tries that ended in a failure. */
	@WholeColumn() tries!: number;
	@TextColumn(optional) channel!: string | null;
	@InstantColumn(optional) endedAtMs!: number | null;
	/** What the notifier answered last, or why it failed. */
	@TextColumn(optional) answer!: string | null;
	/** What it was when it went, as SMS: parts that are paid for, and how they are written. None: it hasn't gone. */
	@WholeColumn(optional) segments!: number | null;
	@TextColumn(optional) encoding!: string | null;
	/** Held until then; none: it isn't held. */
	@InstantColumn(optional) heldUntilMs!: number | null;
	/** Why it was held back once more when its time came; none: it wasn't. */
	@TextColumn(optional) heldBecause!: string | null;
	/** The message that tells of it together with others. */
	@TextColumn(optional) digestId!: string | null;
	/** Names of notifiers in the order in which this message tries them; none: the person's own. */
	@JsonColumn(optional) channels!: string[] | null;
}

/** One row for each channel with a limit, which all processes that send take their slots from. */
@Entity("channel_pace")
export class ChannelPaceRow {
	@IdColumn() channel!: string;
	/** Slots before this are taken. With fractions, for a fast channel has several slots a millisecond. */
	@RealColumn() freeFromMs!: number;
}

/** A try that failed; what went well stands on the message itself. */
@Entity("message_failure")
export class MessageFailureRow {
	@IdColumn() id!: string;
	@Index("message_failure_message") @ForeignKey(() => MessageRow) @TextColumn() messageId!: string;
	@InstantColumn() failedAtMs!: number;
	@TextColumn() channel!: string;
	@FlagColumn() forGood!: boolean;
	@SealedTextColumn() reason!: string;
}

/** accepted: taken over; the others are the channel's last word, and "delivered" is never taken back. */
export type ReceiptState = "accepted" | "failed" | "expired" | "delivered";

/** What a channel has told of a message, or of one of its segments, since it took it. */
@Entity("message_receipt")
@Index("message_receipt_once", ["channel", "channelMessageId"], { unique: true })
@Index("message_receipt_unknown", ["channel"], { where: "message_id IS NULL" })
export class MessageReceiptRow {
	@IdColumn() id!: string;
	@TextColumn() channel!: string;
	/** The channel's own id. */
	@TextColumn() channelMessageId!: string;
	/** None: a receipt for something that isn't known here, or not yet. */
	@Index("message_receipt_message") @ForeignKey(() => MessageRow) @TextColumn(optional) messageId!: string | null;
	/** Under which claim it was sent: a message may be sent more than once. */
	@WholeColumn(optional) claim!: number | null;
	/** From 1. */
	@WholeColumn(optional) segment!: number | null;
	@TextColumn() state!: ReceiptState;
	/** The channel's own words for it, which may name whom it wrote to. */
	@SealedTextColumn(optional) reason!: string | null;
	/** When it happened, as the channel says. */
	@InstantColumn() atMs!: number;
	@InstantColumn() receivedAtMs!: number;
}

/** A browser that shows messages, and the keys to encrypt for it (RFC 8291). */
@Entity("push_subscription")
@Index("push_subscription_once", notByColumn)
export class PushSubscriptionRow {
	@IdColumn() id!: string;
	@Index("push_subscription_person") @ForeignKey(() => PersonRow) @TextColumn() personId!: string;
	@SealedTextColumn({ blind: "endpoint" }) endpoint!: string;
	@SealedTextColumn() p256dh!: string;
	@SealedTextColumn() auth!: string;
	@InstantColumn() createdAtMs!: number;
}

/** Everything that came in, whether it was understood or not. */
@Entity("reply")
@Index("reply_once", ["channel", "channelMessageId"], { unique: true })
export class ReplyRow {
	@IdColumn() id!: string;
	@TextColumn() channel!: string;
	@TextColumn() channelMessageId!: string;
	@SealedTextColumn({ blind: "address" }) fromAddress!: string;
	@SealedTextColumn() body!: string;
	@InstantColumn() receivedAtMs!: number;
	@Index("reply_person") @ForeignKey(() => PersonRow) @TextColumn(optional) personId!: string | null;
	@TextColumn(optional) taskId!: string | null;
	/** What became of it: received (nothing yet), accepted, unclear, unknown number, not hers, task closed... */
	@TextColumn() outcome!: string;
	@TextColumn(optional) answer!: string | null;
}
