/** What is known of sends between one kill and the next. */
export interface Period {
	/** Ids of messages in the order in which they came to the peer. */
	readonly came: readonly string[];
	/** Those of them that are on record as sent, now that nothing is on its way. */
	readonly onRecord: ReadonlySet<string>;
}

/**
 * Holds what came to the peer against what was on record at each kill: a message may come again only where its outcome wasn't known, which
 * is so where it came before a kill and wasn't recorded before it.
 */
export class Sends {
	private readonly known = new Set<string>();
	private readonly unknown = new Set<string>();
	/** Outcomes that the worst of the kills has hidden. */
	mostHidden = 0;
	/** All that kills have hidden. */
	hidden = 0;
	/** Sends of what had come before. */
	extra = 0;
	/** What came again though its outcome was known, or twice without a kill between. */
	readonly wrong: string[] = [];

	add({ came, onRecord }: Period): void {
		const now = new Set<string>();
		for (const id of came) {
			const cameBefore = this.known.has(id) || this.unknown.has(id) || now.has(id);
			if (cameBefore) this.extra++;
			if (this.known.has(id) || now.has(id)) this.wrong.push(id);
			now.add(id);
		}
		let hidden = 0;
		for (const id of now) {
			if (onRecord.has(id)) {
				this.known.add(id);
				this.unknown.delete(id);
			} else {
				this.unknown.add(id);
				hidden++;
			}
		}
		this.hidden += hidden;
		this.mostHidden = Math.max(this.mostHidden, hidden);
	}
}
