import { holidaysOf } from "../programme/holidays.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { nextContactInstant } from "../time/local.js";
import { deliveryOf } from "./delivery.js";
import type { MessageState, ReceiptState } from "./rows.js";

/** What says "today" isn't sent to another channel later than this after the first one took it. */
const STILL_TRUE_MS = 12 * HOUR_MS;

interface Told {
	readonly messageId: string;
	readonly channel: string;
	readonly claim: number;
	readonly state: ReceiptState;
	readonly reason: string | null;
}

interface Message {
	readonly id: string;
	readonly state: MessageState;
	readonly channel: string | null;
	readonly urgent: boolean | number;
	readonly endedAtMs: number | null;
	readonly channels: string;
	readonly workingDays: string;
	readonly quietFrom: string;
	readonly quietUntil: string;
	readonly timeZone: string;
	readonly areaId: string;
}

/** What settling asks beside the database. */
export interface SettlingParts {
	readonly ids: Ids;
	/** Names of the channels there are. */
	readonly configured: Iterable<string>;
	readonly nowMs: number;
}

/**
 * Draws the conclusion from what channels told of messages that they had taken: one that did not arrive goes to the person's next
 * channel, in her time, or has failed; one that arrived after all is sent, whatever was thought before.
 * @returns the messages that wait again and may go at once
 */
export async function settledByReceipts(tx: Transaction, messageIds: readonly string[], parts: SettlingParts): Promise<string[]> {
	const again: string[] = [];
	const sorted = messageIds.toSorted();
	const configured = new Set(parts.configured);
	for (let from = 0; from < sorted.length; from += 500) {
		const some = sorted.slice(from, from + 500);
		const messages = await messagesWith(tx, some);
		const told = await tx.query<Told>(
			`SELECT message_id, channel, claim, state, reason FROM message_receipt WHERE message_id IN (${placeholders(some.length)})`,
			some,
		);
		for (const message of messages) {
			const own = told.filter(({ messageId }) => messageId === message.id);
			const arrivedBy = [...new Set(own.map(({ channel }) => channel))].find(
				(channel) => deliveryOf(own.filter((one) => one.channel === channel)) === "delivered",
			);
			if (arrivedBy !== undefined) await arrived(tx, message, arrivedBy, parts.nowMs);
			else if (message.state === "sent" && (await wentOn(tx, message, own, configured, parts))) again.push(message.id);
		}
	}
	return again;
}

/** On PostgreSQL two receipts of one message wait for each other here, or neither would see both. */
function messagesWith(tx: Transaction, ids: readonly string[]): Promise<Message[]> {
	return tx.query<Message>(
		`SELECT m.id, m.state, m.channel, m.urgent, m.ended_at_ms, p.channels, p.working_days, p.quiet_from, p.quiet_until, p.area_id, a.time_zone
		 FROM message m JOIN person p ON p.id = m.recipient_id JOIN area a ON a.id = p.area_id
		 WHERE m.id IN (${placeholders(ids.length)}) ORDER BY m.id${tx.kind === "postgres" ? " FOR UPDATE OF m" : ""}`,
		ids,
	);
}

async function arrived(tx: Transaction, { id }: Message, channel: string, nowMs: number): Promise<void> {
	await tx.affected(
		`UPDATE message SET state = 'sent', channel = $2, next_try_at_ms = NULL, ended_at_ms = $3, answer = 'delivered'
		 WHERE id = $1 AND state IN ('waiting', 'failed')`,
		[id, channel, nowMs],
	);
}

/** @returns whether it waits for another channel that may carry it at once */
async function wentOn(
	tx: Transaction,
	message: Message,
	told: readonly Told[],
	configured: ReadonlySet<string>,
	{ ids, nowMs }: SettlingParts,
): Promise<boolean> {
	const here = told.filter(({ channel }) => channel === message.channel);
	const delivery = deliveryOf(here);
	if (delivery !== "failed" && delivery !== "expired") return false;
	const words = here.find(({ state, reason }) => state === delivery && reason !== null)?.reason;
	const reason = `told afterwards: ${delivery}${words ? ` (${words})` : ""}`;
	const preferred = (JSON.parse(message.channels) as string[]).filter((name) => configured.has(name));
	const next = preferred[preferred.indexOf(message.channel as string) + 1];
	const holidays = (await holidaysOf(tx, [message.areaId])).get(message.areaId) ?? [];
	const times = { ...message, workingDays: JSON.parse(message.workingDays) as number[], holidays };
	const fromMs = message.urgent ? nowMs : nextContactInstant(nowMs, times);
	const isStillTrue = fromMs <= (message.endedAtMs ?? nowMs) + STILL_TRUE_MS;
	const goes = next !== undefined && isStillTrue;
	await tx.affected(
		`UPDATE message SET state = $2, channel = $3, tries = 0, next_try_at_ms = $4, ended_at_ms = $5, answer = $6 WHERE id = $1 AND state = 'sent'`,
		[message.id, goes ? "waiting" : "failed", goes ? next : message.channel, goes ? fromMs : null, goes ? null : nowMs, reason],
	);
	await tx.affected(
		"INSERT INTO message_failure (id, message_id, failed_at_ms, channel, for_good, reason) VALUES ($1, $2, $3, $4, $5, $6)",
		[ids.next(), message.id, nowMs, message.channel, true, reason],
	);
	return goes && fromMs <= nowMs;
}
