import { canonicalText, sha256 } from "./canonical.js";
import type { LedgerSealRow, LedgerWaitingRow } from "./rows.js";

/** A link as it is hashed. */
export interface Link extends Pick<LedgerSealRow, "firstPosition" | "sealedAtMs"> {
	readonly entryIds: readonly string[];
	readonly digests: readonly string[];
}

/** Where the chain ends: the position of its last entry, and the hash over everything up to it. */
export interface Head {
	readonly position: number;
	readonly hash: string;
	/** None before the first link. */
	readonly sealedAtMs: number | null;
}

/** What the first link follows. */
export const BEGINNING: Head = { position: 0, hash: "0".repeat(64), sealedAtMs: null };

/** A link is closed once it holds so many entries. */
const LINK_ENTRIES = 1000;

/** @returns the hash of a link: over its place, its instant, the entries' ids and digests, and the hash of the link before */
export function linkHash(previousHash: string, { firstPosition, sealedAtMs, entryIds, digests }: Link): string {
	return sha256(canonicalText([previousHash, firstPosition, sealedAtMs, entryIds, digests]));
}

/** @returns links that hold the sheets in their order, some sheets a link */
export function linksOf(
	head: Head,
	sheets: readonly Pick<LedgerWaitingRow, "entryIds" | "digests">[],
	sealedAtMs: number,
): LedgerSealRow[] {
	const links: LedgerSealRow[] = [];
	let { position, hash } = head;
	let entryIds: string[] = [];
	let digests: string[] = [];
	const close = () => {
		if (entryIds.length === 0) return;
		const link = { firstPosition: position + 1, entryIds, digests, sealedAtMs };
		hash = linkHash(hash, link);
		position += entryIds.length;
		links.push({ ...link, entries: entryIds.length, hash });
		[entryIds, digests] = [[], []];
	};
	for (const sheet of sheets) {
		if (entryIds.length + sheet.entryIds.length > LINK_ENTRIES) close();
		entryIds = [...entryIds, ...sheet.entryIds];
		digests = [...digests, ...sheet.digests];
	}
	close();
	return links;
}
