import type { MigrationInterface, QueryRunner } from "typeorm";
import { canonicalTextSql, sha256 } from "../src/ledger/canonical.js";
import { onlyAdded, onlyAddedNoMore } from "./only-added.js";
import { addColumns, dropColumns, table } from "./tables.js";

const PAGE = 1000;

/** The ledger becomes a chain; entries from before wait to be sealed in the order of their instants. */
export class LedgerChain1764400000000 implements MigrationInterface {
	readonly name = "LedgerChain1764400000000";

	async up(runner: QueryRunner): Promise<void> {
		await addColumns(runner, "ledger_entry", { because: "text?", origin: "text?" });
		await table(runner, "ledger_waiting", {
			id: "text key",
			at_ms: "instant",
			entries: "whole",
			entry_ids: "text",
			digests: "text",
		});
		await table(runner, "ledger_seal", {
			first_position: "instant key",
			entries: "whole",
			entry_ids: "text",
			digests: "text",
			sealed_at_ms: "instant",
			hash: "text",
		});
		await table(runner, "ledger_anchor", {
			id: "text key",
			position: "instant",
			hash: "text",
			given_at_ms: "instant",
			how: "text",
		});
		await putOnSheets(runner);
		for (const name of ONLY_ADDED) await onlyAdded(runner, name);
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of ONLY_ADDED) await onlyAddedNoMore(runner, name);
		for (const name of ["ledger_anchor", "ledger_seal", "ledger_waiting"]) await runner.dropTable(name);
		await dropColumns(runner, "ledger_entry", ["because", "origin"]);
	}
}

const ONLY_ADDED = ["ledger_entry", "ledger_seal", "ledger_anchor"];

/** A sheet's id sorts before every id that is made later: those begin with nine digits of the instant. */
const sheetId = (number: number): string => `0before-chain-${String(number).padStart(8, "0")}`;

async function putOnSheets(runner: QueryRunner): Promise<void> {
	const isSqlite = runner.connection.options.type === "better-sqlite3";
	const [at1, at2, at3] = isSqlite ? ["?", "?", "?"] : ["$1", "$2", "$3"];
	const statement = `SELECT id, at_ms, ${canonicalTextSql(isSqlite ? "sqlite" : "postgres")} AS canonical FROM ledger_entry
		WHERE at_ms >= ${at1} AND (at_ms > ${at2} OR id > ${at3}) ORDER BY at_ms, id LIMIT ${PAGE}`;
	let last: { at_ms: number | string; id: string } = { at_ms: -(2 ** 53), id: "" };
	for (let number = 0; ; number++) {
		const rows = (await runner.query(statement, [last.at_ms, last.at_ms, last.id])) as {
			id: string;
			at_ms: number | string;
			canonical: string;
		}[];
		const [first] = rows;
		if (!first) return;
		last = rows.at(-1) as typeof last;
		const ids = JSON.stringify(rows.map(({ id }) => id));
		const digests = JSON.stringify(rows.map(({ canonical }) => sha256(canonical)));
		const places = isSqlite ? "?, ?, ?, ?, ?" : "$1, $2, $3, $4, $5";
		await runner.query(`INSERT INTO ledger_waiting (id, at_ms, entries, entry_ids, digests) VALUES (${places})`, [
			sheetId(number),
			first.at_ms,
			rows.length,
			ids,
			digests,
		]);
	}
}
