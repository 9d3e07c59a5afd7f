import { type Clock, SystemClock } from "../time/clock.js";
import type { SendSlots } from "./send-slots.js";

/** Timers are late by so many milliseconds at times; a slot that is later still is given up. */
const LATE_MS = 50;
/** Slots for so many milliseconds are taken at once: it costs few writes, and no process waits long for those of another. */
const BLOCK_MS = 250;

interface Turn {
	readonly go: () => void;
	readonly fail: (error: unknown) => void;
}

interface Waiting {
	readonly urgent: Turn[];
	readonly bulk: Turn[];
	/** When each of the slots that this process has taken begins, epoch milliseconds. */
	readonly slots: number[];
	isTaking: boolean;
	/** How long it took to take some last: slots that begin before they are known would be late. */
	takingMs: number;
	timer: NodeJS.Timeout | undefined;
}

/**
 * So many messages a second through a channel and no more, evenly spread, of all processes on one database together; an urgent one
 * goes before all that waits in its process. The instants are the machine's own also where the program's clock is moved: whoever
 * sets the limit counts real seconds.
 */
export class Pace {
	private readonly byChannel = new Map<string, Waiting>();

	/** @param perSecond messages a second by channel, above 0; a channel that isn't named has no limit */
	constructor(
		private readonly perSecond: Readonly<Record<string, number>>,
		private readonly slots: Pick<SendSlots, "take">,
		private readonly clock: Clock = new SystemClock(),
	) {}

	/** @returns whether a channel has a limit */
	limits(channel: string): boolean {
		return Object.hasOwn(this.perSecond, channel);
	}

	/** Resolves when it is this message's turn; throws where the database can't be asked for one. */
	async turn(channel: string, urgent: boolean): Promise<void> {
		if (!this.limits(channel)) return;
		const waiting = this.byChannel.get(channel) ?? newWaiting();
		this.byChannel.set(channel, waiting);
		await new Promise<void>((go, fail) => {
			waiting[urgent ? "urgent" : "bulk"].push({ go, fail });
			this.serve(channel, waiting);
		});
	}

	private serve(channel: string, waiting: Waiting): void {
		clearTimeout(waiting.timer);
		const { slots, urgent, bulk } = waiting;
		for (;;) {
			const nowMs = this.clock.nowMs();
			while (slots[0] !== undefined && slots[0] < nowMs - LATE_MS) slots.shift();
			const [next] = slots;
			if (next === undefined) break;
			if (next > nowMs) {
				waiting.timer = setTimeout(() => this.serve(channel, waiting), Math.ceil(next - nowMs));
				break;
			}
			const turn = urgent.shift() ?? bulk.shift();
			if (!turn) break;
			slots.shift();
			turn.go();
		}
		// The next ones are taken while some are left, so that none is lost on the way to the database and back.
		const perBlock = Math.max(1, Math.floor(BLOCK_MS / this.stepMs(channel)));
		const wanted = Math.min(perBlock, urgent.length + bulk.length - slots.length);
		if (wanted > 0 && slots.length <= perBlock / 2 && !waiting.isTaking) void this.take(channel, waiting, wanted);
	}

	private async take(channel: string, waiting: Waiting, count: number): Promise<void> {
		waiting.isTaking = true;
		const beganMs = this.clock.nowMs();
		const stepMs = this.stepMs(channel);
		try {
			const firstMs = await this.slots.take(channel, count, stepMs, beganMs + waiting.takingMs);
			for (let i = 0; i < count; i++) waiting.slots.push(firstMs + i * stepMs);
		} catch (error) {
			for (const { fail } of [...waiting.urgent.splice(0), ...waiting.bulk.splice(0)]) fail(error);
		}
		waiting.takingMs = Math.max(0, this.clock.nowMs() - beganMs);
		waiting.isTaking = false;
		this.serve(channel, waiting);
	}

	/** A message that is late by `LATE_MS` and one a second later that isn't are still a second apart. */
	private stepMs(channel: string): number {
		return (1000 + LATE_MS) / (this.perSecond[channel] as number);
	}
}

function newWaiting(): Waiting {
	return { urgent: [], bulk: [], slots: [], isTaking: false, takingMs: 0, timer: undefined };
}
