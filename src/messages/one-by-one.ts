import type { Claimed } from "./claim.js";

/** What became of a message, as far as it matters to what comes after it: when it is tried again; none: it has ended. */
type Again = number | null;

/** Keeps the order for one person among messages that were claimed together: each waits until the one before it has an outcome. */
export class OneByOne {
	private readonly before = new Map<Claimed, Claimed>();
	private readonly known = new Map<Claimed, { readonly again: Promise<Again>; readonly tell: (again: Again) => void }>();

	/** @param messages in the order in which they are to go */
	constructor(messages: readonly Claimed[]) {
		const last = new Map<string, Claimed>();
		for (const message of messages) {
			if (message.readyAtMs === null) continue;
			const before = last.get(message.personId);
			last.set(message.personId, message);
			if (!before) continue;
			this.before.set(message, before);
			let tell: (again: Again) => void = () => undefined;
			const again = new Promise<Again>((resolve) => {
				tell = resolve;
			});
			this.known.set(before, { again, tell });
		}
	}

	/** @returns when the one before it is tried again, once that is known; none: it has ended, or there is none */
	async turn(message: Claimed): Promise<Again> {
		const before = this.before.get(message);
		return before ? (this.known.get(before)?.again ?? null) : null;
	}

	/** @returns whether it must wait for another */
	waits(message: Claimed): boolean {
		return this.before.has(message);
	}

	ended(message: Claimed, again: Again): void {
		this.known.get(message)?.tell(again);
	}
}

/** @returns claimed messages as they are to go: for each person what was ready first */
export function inOrder(claimed: readonly Claimed[]): Claimed[] {
	return claimed.toSorted((a, b) => (a.readyAtMs ?? 0) - (b.readyAtMs ?? 0) || (a.id < b.id ? -1 : 1));
}
