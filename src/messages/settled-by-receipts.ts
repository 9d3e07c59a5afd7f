import { holidaysOf } from "../programme/holidays.js";
import { placeholders, valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { nextContactInstant } from "../time/local.js";
import { deliveryOf } from "./delivery.js";
import { withoutOwnAddress } from "./own-address.js";
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

/** What becomes of a message whose channel told that it did not arrive. */
interface GoneOn {
	readonly message: Message;
	readonly reason: string;
	/** The next channel and when it may carry it; none: it has failed. */
	readonly next: { readonly channel: string; readonly fromMs: number } | undefined;
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
		const told = await toldOf(tx, some);
		const arrived: { id: string; channel: string }[] = [];
		const lost: { message: Message; reason: string }[] = [];
		for (const message of messages) {
			const own = told.get(message.id) ?? [];
			const arrivedBy = arrivedByChannel(own);
			if (arrivedBy !== undefined) arrived.push({ id: message.id, channel: arrivedBy });
			else if (message.state === "sent") {
				const reason = reasonOfLoss(own.filter(({ channel }) => channel === message.channel));
				if (reason !== undefined) lost.push({ message, reason });
			}
		}
		await keepArrived(tx, arrived, parts.nowMs);
		const gone = await goneOn(tx, await withoutAddresses(tx, lost), configured, parts.nowMs);
		await keepGone(tx, gone, parts);
		for (const { message, next } of gone) if (next && next.fromMs <= parts.nowMs) again.push(message.id);
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

async function toldOf(tx: Transaction, ids: readonly string[]): Promise<ReadonlyMap<string, Told[]>> {
	const rows = await tx.query<Told>(
		`SELECT message_id, channel, claim, state, reason FROM message_receipt WHERE message_id IN (${placeholders(ids.length)})`,
		ids,
	);
	const told = new Map<string, Told[]>();
	for (const row of rows) {
		const own = told.get(row.messageId);
		if (own) own.push(row);
		else told.set(row.messageId, [row]);
	}
	return told;
}

function arrivedByChannel(told: readonly Told[]): string | undefined {
	return [...new Set(told.map(({ channel }) => channel))].find(
		(channel) => deliveryOf(told.filter((one) => one.channel === channel)) === "delivered",
	);
}

/** @returns how its channel says that it did not arrive; none where it doesn't say so */
function reasonOfLoss(told: readonly Told[]): string | undefined {
	const delivery = deliveryOf(told);
	if (delivery !== "failed" && delivery !== "expired") return undefined;
	const words = told.find(({ state, reason }) => state === delivery && reason !== null)?.reason;
	return `told afterwards: ${delivery}${words ? ` (${words})` : ""}`;
}

async function withoutAddresses<T extends { message: Message; reason: string }>(
	tx: Transaction,
	lost: readonly T[],
): Promise<T[]> {
	if (lost.length === 0) return [];
	const rows = await tx.query<{ id: string; phoneE164: string | null; email: string | null }>(
		`SELECT m.id, p.phone_e164, p.email FROM message m JOIN person p ON p.id = m.recipient_id WHERE m.id IN (${placeholders(lost.length)})`,
		lost.map(({ message }) => message.id),
	);
	const reached = new Map(rows.map((row) => [row.id, row]));
	return lost.map((one) => {
		const person = reached.get(one.message.id);
		return person ? { ...one, reason: withoutOwnAddress(one.reason, person) } : one;
	});
}

async function keepArrived(tx: Transaction, arrived: readonly { id: string; channel: string }[], nowMs: number): Promise<void> {
	if (arrived.length === 0) return;
	const { text, parameters } = valuesOf(arrived.map(({ id, channel }) => [id, channel, nowMs]));
	await tx.affected(
		`UPDATE message SET state = 'sent', channel = v.column2, next_try_at_ms = NULL, ended_at_ms = CAST(v.column3 AS bigint), answer = 'delivered'
		 FROM (VALUES ${text}) AS v WHERE message.id = v.column1 AND message.state IN ('waiting', 'failed')`,
		parameters,
	);
}

async function goneOn(
	tx: Transaction,
	lost: readonly { message: Message; reason: string }[],
	configured: ReadonlySet<string>,
	nowMs: number,
): Promise<GoneOn[]> {
	const chosen = lost.map(({ message, reason }) => {
		const own = (JSON.parse(message.channels) as string[]).filter((name) => configured.has(name));
		return { message, reason, channel: own[own.indexOf(message.channel as string) + 1] };
	});
	const areaIds = new Set(chosen.flatMap(({ message, channel }) => (channel === undefined ? [] : [message.areaId])));
	const holidays = areaIds.size === 0 ? undefined : await holidaysOf(tx, [...areaIds]);
	return chosen.map(({ message, reason, channel }) => {
		if (channel === undefined) return { message, reason, next: undefined };
		const workingDays = JSON.parse(message.workingDays) as number[];
		const times = { ...message, workingDays, holidays: holidays?.get(message.areaId) ?? [] };
		const fromMs = message.urgent ? nowMs : nextContactInstant(nowMs, times);
		const isStillTrue = fromMs <= (message.endedAtMs ?? nowMs) + STILL_TRUE_MS;
		return { message, reason, next: isStillTrue ? { channel, fromMs } : undefined };
	});
}

async function keepGone(tx: Transaction, gone: readonly GoneOn[], { ids, nowMs }: SettlingParts): Promise<void> {
	if (gone.length === 0) return;
	const { text, parameters } = valuesOf(
		gone.map(({ message, reason, next }) => [
			message.id,
			next ? "waiting" : "failed",
			next?.channel ?? message.channel,
			next?.fromMs ?? null,
			next ? null : nowMs,
			// The channel's own words stand sealed with the failure.
			reason.replace(/ \(.*/su, ""),
		]),
	);
	await tx.affected(
		`UPDATE message SET state = v.column2, channel = v.column3, tries = 0, ready_at_ms = CAST(v.column4 AS bigint), waits_since_ms = CAST(v.column4 AS bigint), next_try_at_ms = CAST(v.column4 AS bigint),
		 ended_at_ms = CAST(v.column5 AS bigint), answer = v.column6
		 FROM (VALUES ${text}) AS v WHERE message.id = v.column1 AND message.state = 'sent'`,
		parameters,
	);
	const failures = valuesOf(gone.map(({ message, reason }) => [ids.next(), message.id, nowMs, message.channel, true, reason]));
	await tx.affected(
		`INSERT INTO message_failure (id, message_id, failed_at_ms, channel, for_good, reason) VALUES ${failures.text}`,
		failures.parameters,
	);
}
