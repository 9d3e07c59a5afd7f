import type { Head } from "./chain.js";
import type { Findings } from "./findings.js";

/** A head that somebody keeps outside of the ledger. */
export interface Anchor {
	readonly position: number;
	/** 64 hexadecimal digits. */
	readonly hash: string;
}

/** Heads that were given out, in the order of their positions, met one after the other by a walk along the chain. */
export class Anchors {
	private readonly left: Anchor[];
	private lastAgreed: number;
	/** How many agree. */
	agreed = 0;

	/** @param start the walk's: what lies before isn't looked at */
	constructor(anchors: readonly Anchor[], start: Head, findings: Findings) {
		this.left = anchors.filter(({ position }) => position >= start.position).sort((a, b) => a.position - b.position);
		this.lastAgreed = start.position;
		this.pass(start, findings);
	}

	/** The walk has come to the end of a link. */
	pass(head: Head, findings: Findings): void {
		for (let anchor = this.left[0]; anchor && anchor.position <= head.position; anchor = this.left[0]) {
			this.left.shift();
			if (anchor.position === head.position && anchor.hash === head.hash) {
				this.agreed++;
				this.lastAgreed = anchor.position;
			} else
				findings.add(
					"other head",
					`the head of position ${anchor.position} that was given out is another one: something was changed after position ${this.lastAgreed} and up to there, and the chain made anew`,
					{ position: anchor.position },
				);
		}
	}

	/** The walk has come to the end of the chain. */
	end(head: Head, findings: Findings): void {
		for (const { position } of this.left)
			findings.add(
				"removed",
				`the head of position ${position} was given out, but the ledger ends at ${head.position}: positions ${head.position + 1} to ${position} were removed`,
				{ position: head.position + 1 },
			);
	}
}
