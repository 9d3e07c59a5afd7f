import { createHash, hash } from "node:crypto";
import { canonicalTextSql, sha256 } from "../../src/ledger/canonical.js";
import { BEGINNING, linksOf } from "../../src/ledger/chain.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import type { Store } from "../../src/store/store.js";
import { type DatabaseKind, databasesHere, newStore } from "../support/stores.js";
import type { Figure } from "./figure.js";

const ROWS = Number(process.env["JARWATCH_TEST_BENCH_ENTRIES"] ?? 10_000_000);
const PAGE = 1000;

/**
 * A whole ledger verified, beside what any such check must do at least: read the same bytes of each entry from the same database in
 * their order, and take the SHA-256 of each; and, as far below as it can be, beside the SHA-256 of the same bytes where they lie in memory.
 */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) figures.push(...(await onOne(kind)));
	return figures;
}

async function onOne(kind: DatabaseKind): Promise<Figure[]> {
	const store = await newStore(kind);
	try {
		await putEntries(store);
		await sealEntries(store);
		const plain = await plainDigests(store);
		const began = performance.now();
		const verification = await verifyLedger(store);
		const value = (performance.now() - began) / 1000;
		if (verification.entries !== ROWS || verification.findings.length > 0)
			throw new Error(`the ledger of ${ROWS} invented entries doesn't verify: ${JSON.stringify(verification).slice(0, 500)}`);
		const rows = ROWS.toLocaleString("en");
		const name = `verification of a ledger of ${rows} entries on ${kind}`;
		return [
			{ name: `${name}, beside reading and plain SHA-256 of each`, value, floor: plain.readS, unit: "s", bar: "under 3" },
			{ name: `${name}, beside SHA-256 of the same bytes in memory`, value, floor: plain.memoryS, unit: "s", bar: "none: told" },
		];
	} finally {
		await store.remove();
	}
}

/** Invented entries with texts of the usual length, in statements of a million rows. */
async function putEntries(store: Store): Promise<void> {
	const at = store.kind === "postgres" ? "lpad(n::text, 16, '0')" : "printf('%016d', n)";
	const detail = `'{"kind":"retest","code":"T-' || ${at} || '","reading":"3","lowGPerL":2.5,"highGPerL":3.5,"by":"phone"}'`;
	for (let first = 1; first <= ROWS; first += 1_000_000) {
		const last = Math.min(ROWS, first + 999_999);
		const numbers =
			store.kind === "postgres"
				? `generate_series(${first}, ${last}) n`
				: `(WITH RECURSIVE c(n) AS (SELECT ${first} UNION ALL SELECT n + 1 FROM c WHERE n < ${last}) SELECT n FROM c)`;
		await store.work.run((tx) =>
			tx.query(
				`INSERT INTO ledger_entry (id, at_ms, actor, action, subject_kind, subject_id, area_id, detail, because, origin)
				 SELECT '1kkkkk' || ${at}, 1764000000000 + n, '1kkkkkperson0000000001', 'strength tested', 'batch', '1kkkkb' || ${at},
				        '1kkkkkarea00000000001', ${detail}, NULL, 'POST /batches/:code/strength-tests, request ' || ${at}
				 FROM ${numbers}`,
			),
		);
	}
	if (store.kind === "postgres") await store.work.run((tx) => tx.query("ANALYZE ledger_entry"));
}

async function pages(store: Store, use: (rows: readonly Entry[]) => Promise<void> | void, size: number): Promise<void> {
	const statement = `SELECT id, ${canonicalTextSql(store.kind)} AS canonical FROM ledger_entry WHERE id > $1 ORDER BY id LIMIT ${size}`;
	for (let last = ""; ; ) {
		const rows = await store.query<Entry>(statement, [last]);
		if (rows.length === 0) return;
		last = rows.at(-1)!.id;
		await use(rows);
	}
}

interface Entry {
	readonly id: string;
	readonly canonical: string;
}

async function sealEntries(store: Store): Promise<void> {
	let head = BEGINNING;
	await pages(
		store,
		async (rows) => {
			const sheets = Array.from({ length: Math.ceil(rows.length / PAGE) }, (_, i) => {
				const page = rows.slice(i * PAGE, (i + 1) * PAGE);
				return { entryIds: page.map(({ id }) => id), digests: page.map(({ canonical }) => sha256(canonical)) };
			});
			const links = linksOf(head, sheets, 1_764_000_000_000);
			const last = links.at(-1)!;
			head = { position: last.firstPosition + last.entries - 1, hash: last.hash, sealedAtMs: last.sealedAtMs };
			await store.work.run((tx) =>
				tx.insert(
					"ledger_seal",
					["first_position", "entries", "entry_ids", "digests", "sealed_at_ms", "hash"],
					links.map((link) => [
						...[link.firstPosition, link.entries, JSON.stringify(link.entryIds), JSON.stringify(link.digests)],
						...[link.sealedAtMs, link.hash],
					]),
				),
			);
		},
		20 * PAGE,
	);
}

/** @returns seconds for reading and hashing each entry, and for hashing the same bytes where they lie in memory */
async function plainDigests(store: Store): Promise<{ readS: number; memoryS: number }> {
	const began = performance.now();
	let memoryMs = 0;
	const whole = createHash("sha256");
	await pages(
		store,
		(rows) => {
			for (const { canonical } of rows) hash("sha256", canonical, "hex");
			const bytes = Buffer.from(rows.map(({ canonical }) => canonical).join(""));
			const before = performance.now();
			whole.update(bytes);
			memoryMs += performance.now() - before;
		},
		4000,
	);
	whole.digest();
	return { readS: (performance.now() - began - memoryMs) / 1000, memoryS: memoryMs / 1000 };
}
