import { among } from "../store/sql.js";
import { type Anchor, Anchors } from "./anchors.js";
import { canonicalTextSql } from "./canonical.js";
import { BEGINNING, type Head } from "./chain.js";
import { checkEntries, checkLink, type Listed, listed, type StoredLink } from "./check-link.js";
import { type Finding, Findings } from "./findings.js";
import type { LedgerReads } from "./reads.js";
import { type Waiting, waitingOf } from "./sealer.js";
import { entriesInNoLink } from "./unclaimed.js";

export interface Verification {
	/** First position that was looked at. */
	readonly from: number;
	/** Entries that were held against the chain. */
	readonly entries: number;
	readonly head: Head;
	readonly waiting: Waiting;
	/** Heads that were given out or brought along, and agree. */
	readonly anchors: number;
	/** The first of them; none: the ledger is whole. */
	readonly findings: readonly Finding[];
	/** Findings beyond those. */
	readonly more: number;
}

/** Links are read so many at a time, and so many entries: what is held in memory doesn't grow with the ledger. */
const LINKS_AT_ONCE = 20;
const ENTRIES_AT_ONCE = 1000;

type Read = StoredLink & { readonly lists: Listed | undefined };

/**
 * Holds every entry against the chain, and the chain against the heads that were given out.
 * @param from position to begin at, 1 or more; the whole link that holds it is looked at, and the one before it is believed
 * @param outside heads that were kept outside, beside those that the database keeps
 * @returns what was looked at, and everything that doesn't agree, each by name
 */
export async function verifyLedger(on: LedgerReads, from = 1, outside: readonly Anchor[] = []): Promise<Verification> {
	const findings = new Findings();
	const start = from <= 1 ? BEGINNING : await headBefore(on, from);
	const anchors = new Anchors([...(await keptAnchors(on)), ...outside], start, findings);
	let place = { head: start, hashes: [start.hash] as readonly string[] };
	let entries = 0;
	let coming = linksAfter(on, from <= 1 ? Number.NEGATIVE_INFINITY : start.position);
	for (let links = await coming; links.length > 0; links = await coming) {
		coming = linksAfter(on, links.at(-1)!.firstPosition);
		coming.catch(() => undefined);
		for (const page of pagesOf(links)) {
			const contents = await contentsOf(on, page);
			for (const link of page) {
				place = checkLink(link, link.lists, place, findings);
				anchors.pass(place.head, findings);
				if (link.lists) checkEntries(link.lists, contents, findings, link.firstPosition);
				entries += link.lists?.entryIds.length ?? 0;
			}
		}
	}
	anchors.end(place.head, findings);
	await checkWaiting(on, findings);
	if (from <= 1) await entriesInNoLink(on, findings);
	return {
		from: start.position + 1,
		entries,
		head: place.head,
		waiting: await waitingOf(on),
		anchors: anchors.agreed,
		findings: findings.first,
		more: findings.more,
	};
}

/** @returns the end of the last link that ends before a position */
async function headBefore(on: LedgerReads, position: number): Promise<Head> {
	const [link] = await on.query<StoredLink>(
		`SELECT ${LINK} FROM ledger_seal WHERE first_position + entries <= $1 ORDER BY first_position DESC LIMIT 1`,
		[position],
	);
	return link ? { position: link.firstPosition + link.entries - 1, hash: link.hash, sealedAtMs: link.sealedAtMs } : BEGINNING;
}

const LINK = "first_position, entries, entry_ids, digests, sealed_at_ms, hash";

async function linksAfter(on: LedgerReads, position: number): Promise<Read[]> {
	const links = await on.query<StoredLink>(
		`SELECT ${LINK} FROM ledger_seal WHERE first_position > $1 ORDER BY first_position LIMIT ${LINKS_AT_ONCE}`,
		[Number.isFinite(position) ? position : -Number.MAX_SAFE_INTEGER],
	);
	return links.map((link) => ({ ...link, lists: listed(link.entryIds, link.digests) }));
}

/** Links differ a thousandfold in length: each page has about as many entries. */
function pagesOf(links: readonly Read[]): Read[][] {
	const pages: Read[][] = [];
	let entries = Number.POSITIVE_INFINITY;
	for (const link of links) {
		const length = link.lists?.entryIds.length ?? 0;
		if (entries + length > ENTRIES_AT_ONCE) {
			pages.push([]);
			entries = 0;
		}
		pages.at(-1)!.push(link);
		entries += length;
	}
	return pages;
}

/**
 * Ids follow one another in time, and so do the entries of a few sheets: they are read as one stretch of the table, which costs less than
 * half of looking each up, and by their ids only where another's entries lie thickly between them.
 * @returns canonical texts by id
 */
async function contentsOf(
	on: LedgerReads,
	sheets: readonly { readonly lists: Listed | undefined }[],
): Promise<Map<string, string>> {
	const ids = sheets.flatMap(({ lists }) => lists?.entryIds ?? []);
	const [first, last] = endsOf(ids);
	const entries = `SELECT id, ${canonicalTextSql(on.kind)} AS canonical FROM ledger_entry WHERE`;
	const stretch = await on.query<Content>(`${entries} id BETWEEN $1 AND $2 ORDER BY id LIMIT ${2 * ids.length}`, [first, last]);
	const contents = new Map(stretch.map(({ id, canonical }) => [id, canonical]));
	const beyond = ids.filter((id) => !contents.has(id));
	if (beyond.length > 0)
		for (const { id, canonical } of await on.query<Content>(`${entries} id ${among(on.kind, "$1")}`, [beyond]))
			contents.set(id, canonical);
	return contents;
}

interface Content {
	readonly id: string;
	readonly canonical: string;
}

function endsOf(ids: readonly string[]): [first: string, last: string] {
	let [first, last] = [ids[0] ?? "", ids[0] ?? ""];
	for (const id of ids) {
		if (id < first) first = id;
		if (id > last) last = id;
	}
	return [first, last];
}

async function checkWaiting(on: LedgerReads, findings: Findings): Promise<void> {
	let last = "";
	for (;;) {
		const sheets = await on.query<{ id: string; entries: number; entryIds: string; digests: string }>(
			`SELECT id, entries, entry_ids, digests FROM ledger_waiting WHERE id > $1 ORDER BY id LIMIT ${LINKS_AT_ONCE}`,
			[last],
		);
		if (sheets.length === 0) return;
		last = sheets.at(-1)!.id;
		const read = sheets.map((sheet) => ({ ...sheet, lists: listed(sheet.entryIds, sheet.digests) }));
		const contents = await contentsOf(on, read);
		for (const { id, entries, lists } of read)
			if (lists?.entryIds.length === entries) checkEntries(lists, contents, findings);
			else findings.add("link changed", `sheet ${id}, which waits to be sealed, was changed: its lists can't be read`);
	}
}

function keptAnchors(on: LedgerReads): Promise<Anchor[]> {
	return on.query<{ position: number; hash: string }>("SELECT position, hash FROM ledger_anchor ORDER BY position, id");
}
