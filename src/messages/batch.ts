import type { Log } from "../log/log.js";
import type { Clock } from "../time/clock.js";
import type { Randomness } from "../time/randomness.js";
import type { Backlog } from "./backlog.js";
import { type ChannelChoice, channelChoice } from "./channel-choice.js";
import type { Notifiers } from "./channels/registry.js";
import { type CircuitState, type Circuits, LONG_AWAY_MS } from "./circuits.js";
import type { Claimed } from "./claim.js";
import { digestOf, isDigest } from "./digest.js";
import type { DispatchBook, Recorder } from "./dispatch-book.js";
import type { Delivery, Notifier, Outgoing } from "./notifier.js";
import { inOrder, OneByOne } from "./one-by-one.js";
import { failedUnsent, givenBack, type Outcome, outcomeOf, withdrawn } from "./outcome.js";
import { withoutOwnAddress } from "./own-address.js";
import type { Pace } from "./pace.js";
import { segmentsOf } from "./segments.js";
import type { Slots } from "./slots.js";
import { asksForWork } from "./text-names.js";
import { type Rendered, textOf } from "./texts.js";
import type { Tries } from "./tries.js";
import type { Turns } from "./turns.js";

/** What all batches of a dispatcher share. */
export interface Carrying {
	readonly clock: Clock;
	readonly randomness: Randomness;
	readonly notifiers: Notifiers;
	readonly log: Log;
	readonly book: DispatchBook;
	readonly backlog: Backlog;
	readonly slots: Slots;
	/** Where the process sends one at a time: whose turn it is, from the send until its outcome is kept. */
	readonly alone: Slots | undefined;
	readonly tries: Tries;
	readonly turns: Turns;
	readonly circuits: Circuits;
	readonly pace: Pace;
	readonly sendTries: number;
	readonly sendTimeoutMs: number;
	/** Channels that have asked for quiet, and until when. */
	readonly heldUntilMs: Map<string, number>;
	readonly isStopping: boolean;
}

/** A channel that asks for quiet is left alone as a whole, but not so long that nobody notices that it is well again. */
const LONGEST_HOLD_MS = 600_000;
/** What waited for a channel comes back over so many milliseconds, or it would be run over. */
const SPREAD_MS = 10_000;

/** Messages that were claimed together, on their way to people and into the book. */
export class Batch implements Recorder {
	private begun = 0;
	private ended = 0;
	private late = 0;
	private lostCount = 0;
	private lostTo: unknown;
	private finish: () => void = () => undefined;
	private readonly messages: readonly Claimed[];
	private readonly order: OneByOne;

	/**
	 * @param untilMs when the lease on them runs out
	 * @param fallbackLanguage for people whose language has no catalogue
	 */
	constructor(
		private readonly on: Carrying,
		messages: readonly Claimed[],
		private readonly untilMs: number,
		private readonly fallbackLanguage: string,
	) {
		this.messages = inOrder(messages);
		this.order = new OneByOne(this.messages);
		on.backlog.add(messages.length);
	}

	get size(): number {
		return this.messages.length;
	}

	/** Resolves when every message has an outcome that is recorded, or can't be. */
	async carry(): Promise<void> {
		const finished = new Promise<void>((resolve) => {
			this.finish = resolve;
		});
		while (this.begun < this.messages.length) {
			await this.on.slots.take();
			// Another lane may have begun with the last one meanwhile.
			if (this.begun < this.messages.length) void this.lane();
			else this.on.slots.give();
		}
		await finished;
		this.tellOfTrouble();
	}

	recorded(isKept: boolean): void {
		if (!isKept) this.late++;
		if (++this.ended === this.messages.length) this.finish();
	}

	lost(error: unknown): void {
		this.lostCount++;
		this.lostTo = error;
		this.recorded(true);
	}

	/**
	 * Works through what nobody has begun with, one after the other, on one slot. What a peer has answered is kept before the lane
	 * goes on, so that a crash hides at most one answer a lane. Only what was answered within the same turn of the event loop, and
	 * so by no peer, is kept together with what follows it: a commit for each would cost more than all the rest.
	 */
	private async lane(): Promise<void> {
		while (this.begun < this.messages.length) {
			const message = this.messages[this.begun++]!;
			this.on.backlog.begun();
			await this.carryOne(message);
		}
		this.on.slots.give();
	}

	private async carryOne(message: Claimed): Promise<void> {
		const { turns, book, alone } = this.on;
		const begunIn = turns.current();
		const behind = this.order.waits(message) ? await this.order.turn(message) : null;
		if (alone) await alone.take();
		try {
			// What couldn't go holds up what comes after it for the same person.
			const outcome =
				behind === null ? (this.withoutSending(message) ?? (await this.sent(message))) : givenBack(message, behind + 1);
			this.order.ended(message, outcome.nextTryAtMs);
			if (turns.current() === begunIn) book.record(outcome, this);
			else await this.kept(outcome);
		} catch (error) {
			this.order.ended(message, this.untilMs);
			this.lost(error);
		} finally {
			alone?.give();
		}
	}

	private kept(outcome: Outcome): Promise<void> {
		return new Promise((resolve) => {
			this.on.book.record(outcome, {
				recorded: (isKept) => {
					this.recorded(isKept);
					resolve();
				},
				lost: (error) => {
					this.lost(error);
					resolve();
				},
			});
		});
	}

	private withoutSending(message: Claimed): Outcome | undefined {
		const nowMs = this.on.clock.nowMs();
		if (message.unwanted !== null) return withdrawn(message, message.unwanted, nowMs);
		if (message.taskState !== null && message.taskState !== "open" && asksForWork(message.textName))
			return withdrawn(message, "the task was closed before it went", nowMs);
		if (message.members?.length === 0) return withdrawn(message, "every task that it tells of was closed before it went", nowMs);
		// A send that may outlast its lease could be claimed and sent by somebody else at the same time.
		if (this.on.isStopping || nowMs + this.on.sendTimeoutMs > this.untilMs) return givenBack(message, nowMs);
		return undefined;
	}

	private async sent(message: Claimed): Promise<Outcome> {
		const { clock, notifiers, randomness, heldUntilMs, pace } = this.on;
		const preferred = channelsFrom(message.channels);
		const first = channelChoice(preferred, notifiers, message.channel);
		if (!first)
			return failedUnsent(message, `none of the person's channels is configured here: ${preferred.join(", ")}`, clock.nowMs());
		const text = textFor(message, this.fallbackLanguage);
		if (!text)
			return failedUnsent(message, `the text ${message.textName} can't be made from what it is filled with`, clock.nowMs());
		const open = this.openChannel(message, preferred, first);
		if ("untilMs" in open) return givenBack(message, open.untilMs + randomness.below(SPREAD_MS));
		const { choice } = open;
		const notifier = notifiers.get(choice.channel) as Notifier;
		if (pace.limits(choice.channel)) {
			await pace.turn(choice.channel, Boolean(message.urgent));
			// While it waited for its turn its lease went on, and so did everything else.
			const outcome = this.withoutSending(message);
			if (outcome) return outcome;
		}
		const nowMs = clock.nowMs();
		const delivery = withoutOwn(await this.on.tries.of(notifier, outgoing(message, text, nowMs)), message);
		const answeredAtMs = clock.nowMs();
		if (delivery.kind === "refused" && !delivery.forGood && delivery.retryAfterMs)
			heldUntilMs.set(choice.channel, answeredAtMs + Math.min(delivery.retryAfterMs, LONGEST_HOLD_MS));
		this.tellOfCircuit(choice.channel, this.on.circuits.answered(choice.channel, delivery, answeredAtMs));
		// Tries are counted by channel: on another one than it was begun with, none has failed yet.
		const begun = choice.channel === first.channel ? message : { ...message, tries: 0 };
		const outcome = outcomeOf(begun, choice, delivery, this.on.sendTries, randomness, answeredAtMs);
		return delivery.kind === "accepted" ? { ...outcome, sent: segmentsOf(text.text) } : outcome;
	}

	/**
	 * The first of the person's channels from the chosen one on that isn't left alone at the moment, where the message is urgent or the
	 * chosen one has been away for long; else the chosen one, or when it may be tried.
	 */
	private openChannel(
		message: Claimed,
		preferred: readonly string[],
		first: ChannelChoice,
	): { readonly choice: ChannelChoice } | { readonly untilMs: number } {
		const { clock, notifiers, heldUntilMs, circuits } = this.on;
		const nowMs = clock.nowMs();
		let earliestMs = Number.POSITIVE_INFINITY;
		for (let choice: ChannelChoice | undefined = first; choice; ) {
			const heldMs = heldUntilMs.get(choice.channel) ?? 0;
			const passage =
				heldMs > nowMs ? { may: false as const, untilMs: heldMs, openForMs: 0 } : circuits.passage(choice.channel, nowMs);
			if (passage.may) return { choice };
			earliestMs = Math.min(earliestMs, passage.untilMs);
			const waits = !message.urgent && passage.openForMs < LONG_AWAY_MS;
			if (waits || choice.next === undefined) break;
			choice = channelChoice(preferred, notifiers, choice.next);
		}
		return { untilMs: earliestMs };
	}

	private tellOfCircuit(channel: string, changedTo: CircuitState | undefined): void {
		if (changedTo === "closed") this.on.log.info({ channel }, "the channel works again");
		else if (changedTo) this.on.log.warn({ channel }, "the channel fails: messages wait, and one at a time is tried");
	}

	private tellOfTrouble(): void {
		const { log } = this.on;
		if (this.lostCount > 0)
			log.error(
				{ messages: this.lostCount, err: this.lostTo },
				"outcomes were not recorded: these messages go out again when their leases run out",
			);
		if (this.late > 0)
			log.warn({ messages: this.late }, "sends ended after their leases: somebody else has claimed these messages");
	}
}

const NONE: readonly string[] = [];

function channelsFrom(json: string): readonly string[] {
	return json === "[]" ? NONE : (JSON.parse(json) as string[]);
}

function textFor(message: Claimed, fallbackLanguage: string): Rendered | undefined {
	try {
		const { members, textName } = message;
		if (members && isDigest(textName)) return digestOf(textName, members, message.language, fallbackLanguage);
		return textOf(textName, JSON.parse(message.fill), message.language, fallbackLanguage);
	} catch {
		return undefined;
	}
}

function withoutOwn(delivery: Delivery, message: Claimed): Delivery {
	return delivery.kind === "accepted"
		? { ...delivery, answer: withoutOwnAddress(delivery.answer, message) }
		: { ...delivery, reason: withoutOwnAddress(delivery.reason, message) };
}

function outgoing(message: Claimed, { text, language }: Rendered, attemptedAtMs: number): Outgoing {
	const { id, idempotencyKey, taskId, personId, name, phoneE164, email } = message;
	return {
		idempotencyKey,
		messageId: id,
		taskId,
		text,
		language,
		urgent: Boolean(message.urgent),
		recipient: { personId, name, phoneE164, email },
		attemptedAtMs,
	};
}
