import { sha256 } from "./canonical.js";
import { type Head, linkHash } from "./chain.js";
import type { Findings } from "./findings.js";

/** A link as the database keeps it. */
export interface StoredLink {
	readonly firstPosition: number;
	readonly entries: number;
	/** JSON. */
	readonly entryIds: string;
	/** JSON. */
	readonly digests: string;
	readonly sealedAtMs: number;
	readonly hash: string;
}

/** Where the walk along the chain stands. */
export interface Place {
	readonly head: Head;
	/** What may be the hash before the next link: as it is kept and as it was reckoned; none: a link is missing, and it can't be known. */
	readonly hashes: readonly string[];
}

/** What a sheet or a link says of its entries. */
export interface Listed {
	readonly entryIds: readonly string[];
	readonly digests: readonly string[];
}

/** @returns the lists of a link or sheet; undefined where they aren't lists of texts of one length */
export function listed(entryIds: string, digests: string): Listed | undefined {
	const [ids, kept] = [textsOf(entryIds), textsOf(digests)];
	return ids && kept && ids.length === kept.length ? { entryIds: ids, digests: kept } : undefined;
}

function textsOf(json: string): string[] | undefined {
	try {
		const list: unknown = JSON.parse(json);
		return Array.isArray(list) && list.every((item) => typeof item === "string") ? list : undefined;
	} catch {
		return undefined;
	}
}

/** Holds a link against the one before it. @returns where the walk stands after it */
export function checkLink(link: StoredLink, lists: Listed | undefined, { head, hashes }: Place, findings: Findings): Place {
	const { firstPosition, entries, hash, sealedAtMs } = link;
	const last = firstPosition + entries - 1;
	const after = (made: string | undefined): Place => ({
		head: { position: last, hash, sealedAtMs },
		hashes: made === undefined || made === hash ? [hash] : [hash, made],
	});
	const isNext = firstPosition === head.position + 1;
	if (firstPosition > head.position + 1)
		findings.add("removed", `positions ${span(head.position + 1, firstPosition - 1)} are missing: their link was removed`, {
			position: head.position + 1,
		});
	else if (!isNext)
		findings.add("inserted", `the link from position ${firstPosition} lies over positions that another link holds`, {
			position: firstPosition,
		});
	if (!lists || lists.entryIds.length !== entries) {
		findings.add("link changed", `the link of positions ${span(firstPosition, last)} was changed: its lists can't be read`, {
			position: firstPosition,
		});
		return after(undefined);
	}
	const made = hashes.map((before) => linkHash(before, { ...lists, firstPosition, sealedAtMs }));
	if (isNext && hashes.length > 0 && !made.includes(hash))
		findings.add("link changed", `the link of positions ${span(firstPosition, last)} was changed: its hash doesn't agree`, {
			position: firstPosition,
		});
	return after(made[0]);
}

/** Holds entries against the digests that a link or a sheet keeps of them. @param contents canonical texts by id */
export function checkEntries(
	{ entryIds, digests }: Listed,
	contents: ReadonlyMap<string, string>,
	findings: Findings,
	firstPosition?: number,
): void {
	for (let i = 0; i < entryIds.length; i++) {
		const entryId = entryIds[i]!;
		const content = contents.get(entryId);
		const digest = content === undefined ? undefined : sha256(content);
		if (digest === digests[i]) continue;
		const at = { entryId, ...(firstPosition !== undefined && { position: firstPosition + i }) };
		const place = firstPosition === undefined ? "that waits to be sealed" : `at position ${firstPosition + i}`;
		if (digest === undefined) findings.add("removed", `entry ${entryId} ${place} was removed`, at);
		else if (digests.includes(digest)) findings.add("reordered", `entry ${entryId} ${place} stands in another's place`, at);
		else findings.add("changed", `entry ${entryId} ${place} was changed`, at);
	}
}

const span = (first: number, last: number): string => (first === last ? `${first}` : `${first} to ${last}`);
