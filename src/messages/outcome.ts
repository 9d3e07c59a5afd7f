import { withoutSecrets } from "../log/log.js";
import type { Randomness } from "../time/randomness.js";
import type { ChannelChoice } from "./channel-choice.js";
import type { Delivery } from "./notifier.js";
import { restAfterFailureMs } from "./retry.js";
import type { MessageState } from "./rows.js";
import type { Segments } from "./segments.js";

/** What is to be recorded of a claimed message. */
export interface Outcome {
	readonly messageId: string;
	/** Of the claim under which it was sent; recorded only while that is still the last one. */
	readonly claim: number;
	readonly state: MessageState;
	/** The channel that carried it, or that is to be tried next. */
	readonly channel: string | null;
	/** Failed tries on that channel. */
	readonly tries: number;
	/** When it may be claimed again; none: it has ended. */
	readonly nextTryAtMs: number | null;
	readonly endedAtMs: number | null;
	readonly answer: string | null;
	/** What went, as SMS; absent: nothing did. */
	readonly sent?: Segments;
	readonly failure?: Failure;
	/** What the channel calls it, one a segment where it tells of segments. */
	readonly channelMessageIds?: readonly string[];
}

/** A try that failed. */
export interface Failure {
	readonly channel: string;
	readonly forGood: boolean;
	readonly reason: string;
	readonly failedAtMs: number;
}

/** What of a claimed message decides over its outcome. */
export interface Tried {
	readonly id: string;
	readonly claim: number;
	readonly tries: number;
	readonly channel: string | null;
}

const ended = { nextTryAtMs: null } as const;

/** It isn't needed any more, or its person must not be written to. */
export function withdrawn(message: Tried, why: string, nowMs: number): Outcome {
	return { ...same(message), ...ended, state: "withdrawn", endedAtMs: nowMs, answer: why };
}

/** It can't be sent by anybody until somebody mends what is wrong and lets it go again. */
export function failedUnsent(message: Tried, why: string, nowMs: number): Outcome {
	const failure = { channel: message.channel ?? "none", forGood: true, reason: why, failedAtMs: nowMs };
	return { ...same(message), ...ended, state: "failed", endedAtMs: nowMs, answer: why, failure };
}

/** It wasn't tried: somebody else may take it from an instant on, and it counts as no failure. */
export function givenBack(message: Tried, fromMs: number): Outcome {
	return { ...same(message), state: "waiting", nextTryAtMs: fromMs, endedAtMs: null, answer: null };
}

/**
 * What follows from a channel's answer.
 * Refused for good, or once too often: the person's next channel is tried from the beginning; where there is none it has failed.
 * Refused for now: the same channel again after a rest. Throttled: the same without counting a try, or a slow gateway would lose a busy morning's messages.
 * @param mostTries failed tries on one channel at which it is given up, at least 1
 * @param nowMs when the answer came, epoch milliseconds
 */
export function outcomeOf(
	message: Tried,
	{ channel, next }: ChannelChoice,
	delivery: Delivery,
	mostTries: number,
	randomness: Randomness,
	nowMs: number,
): Outcome {
	if (delivery.kind === "accepted")
		return {
			messageId: message.id,
			claim: message.claim,
			state: "sent",
			channel,
			tries: message.tries,
			nextTryAtMs: null,
			endedAtMs: nowMs,
			answer: presentable(delivery.answer),
			...(delivery.channelMessageIds ? { channelMessageIds: delivery.channelMessageIds } : {}),
		};
	// A gateway's complaint may name the number it complains about, with or without its plus.
	const reason = presentable(delivery.reason).replace(/\d{9,}/g, "[number]");
	const failure: Failure = { channel, forGood: delivery.forGood, reason, failedAtMs: nowMs };
	const told = { ...same(message), answer: reason, failure };
	if (delivery.throttled && !delivery.forGood) {
		const nextTryAtMs = nowMs + restAfterFailureMs(1, randomness, delivery.retryAfterMs);
		return { ...same(message), state: "waiting", channel, nextTryAtMs, endedAtMs: null, answer: reason };
	}
	const tries = message.tries + 1;
	if (!delivery.forGood && tries < mostTries) {
		const nextTryAtMs = nowMs + restAfterFailureMs(tries, randomness, delivery.retryAfterMs);
		return { ...told, state: "waiting", channel, tries, nextTryAtMs, endedAtMs: null };
	}
	if (next !== undefined) return { ...told, state: "waiting", channel: next, tries: 0, nextTryAtMs: nowMs, endedAtMs: null };
	return { ...told, ...ended, state: "failed", channel, tries, endedAtMs: nowMs };
}

function same({ id, claim, tries, channel }: Tried): Pick<Outcome, "messageId" | "claim" | "tries" | "channel"> {
	return { messageId: id, claim, tries, channel };
}

const LONGEST_REASON = 200;

const PLAIN = /^[A-Za-z .,:;'()-]{0,200}$/;

/** A channel's words are kept and shown: on one line, not long, and without a number or secret. */
function presentable(text: string): string {
	if (PLAIN.test(text)) return text;
	const short = text.length > LONGEST_REASON ? `${text.slice(0, LONGEST_REASON)}...` : text;
	return withoutSecrets(short.replace(/[\p{Cc}\ud800-\udfff]+/gu, " "));
}
