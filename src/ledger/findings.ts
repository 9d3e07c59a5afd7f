/** Something in the ledger that doesn't agree. */
export interface Finding {
	readonly kind: "changed" | "removed" | "inserted" | "reordered" | "link changed" | "other head";
	/** Where in the chain; none where it has no place in it. */
	readonly position: number | null;
	/** Which entry; none where no single one can be named. */
	readonly entryId: string | null;
	readonly message: string;
}

const MOST_NAMED = 1000;

/** What was found, named up to a number and counted beyond it. */
export class Findings {
	readonly first: Finding[] = [];
	more = 0;

	add(kind: Finding["kind"], message: string, at: { readonly position?: number; readonly entryId?: string } = {}): void {
		if (this.first.length < MOST_NAMED)
			this.first.push({ kind, position: at.position ?? null, entryId: at.entryId ?? null, message });
		else this.more++;
	}

	get any(): boolean {
		return this.first.length > 0;
	}
}
