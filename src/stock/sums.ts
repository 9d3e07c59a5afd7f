import type { Transaction } from "../store/unit-of-work.js";
import { UL_PER_L, UL_PER_ML } from "./moves.js";

/** A sum that doesn't hold, and what would be right. */
export interface BrokenSum {
	/** Code of the jar or of the stock item. */
	readonly code: string;
	readonly of: "jar" | "item";
	readonly what: string;
	readonly expected: number;
	readonly found: number;
	readonly unit: "mL" | "g" | "drop" | "piece" | "lines";
}

export interface SumCheck {
	readonly jars: number;
	readonly moves: number;
	readonly items: number;
	/** Empty: every sum holds. */
	readonly broken: readonly BrokenSum[];
}

/** Checks every sum of the books, in a few statements. @returns what was looked at, and each jar or item whose sum doesn't hold */
export async function checkSums(from: Pick<Transaction, "query">): Promise<SumCheck> {
	const [counts] = await from.query<{ jars: number; moves: number; items: number }>(
		`SELECT (SELECT count(*) FROM batch) AS jars, (SELECT count(*) FROM stock_move) AS moves, (SELECT count(*) FROM stock_item) AS items`,
	);
	const broken: BrokenSum[] = [];
	for (const { what, sql, unit } of CHECKS)
		for (const { code, expected, found } of await from.query<{ code: string; expected: number; found: number }>(sql))
			broken.push({ code, of: "jar", what, unit, expected: scaled(expected, unit), found: scaled(found, unit) });
	const items = await from.query<{ code: string; unit: "g" | "drop" | "piece"; expected: number; found: number }>(
		`SELECT i.code, i.unit, CAST(COALESCE(SUM(m.quantity), 0) AS double precision) AS expected, i.held AS found
		 FROM stock_item i LEFT JOIN item_move m ON m.item_id = i.id GROUP BY i.id, i.code, i.unit, i.held
		 HAVING COALESCE(SUM(m.quantity), 0) <> i.held OR i.held < 0 ORDER BY i.code`,
	);
	for (const item of items) broken.push({ ...item, of: "item", what: "what it holds isn't the sum of its moves" });
	return { jars: Number(counts?.jars), moves: Number(counts?.moves), items: Number(counts?.items), broken };
}

const scaled = (value: number, unit: BrokenSum["unit"]): number => (unit === "mL" ? Number(value) / UL_PER_ML : Number(value));

const CHECKS: readonly { readonly what: string; readonly sql: string; readonly unit: "mL" | "lines" }[] = [
	{
		what: "what it holds isn't the sum of its moves",
		unit: "mL",
		sql: `SELECT b.code, CAST(COALESCE(SUM(m.volume_ul), 0) AS double precision) AS expected, b.held_ul AS found FROM batch b LEFT JOIN stock_move m ON m.jar_id = b.id
			WHERE b.held_ul IS NOT NULL GROUP BY b.id, b.code, b.held_ul HAVING COALESCE(SUM(m.volume_ul), 0) <> b.held_ul ORDER BY b.code`,
	},
	{
		what: "it holds less than nothing",
		unit: "mL",
		sql: "SELECT code, 0 AS expected, held_ul AS found FROM batch WHERE held_ul < 0 ORDER BY code",
	},
	{
		what: "more was taken from it than was in it at some line",
		unit: "mL",
		sql: `SELECT code, 0 AS expected, MIN(balance) AS found FROM (
				SELECT b.code, CAST(SUM(m.volume_ul) OVER (PARTITION BY m.jar_id ORDER BY m.recorded_at_ms, CASE WHEN m.volume_ul > 0 THEN 0 ELSE 1 END, m.id) AS double precision) AS balance
				FROM stock_move m JOIN batch b ON b.id = m.jar_id) AS balances
			GROUP BY code HAVING MIN(balance) < 0 ORDER BY code`,
	},
	{
		what: "what was drawn into it isn't what was drawn out for it",
		unit: "mL",
		sql: `SELECT b.code, CAST(COALESCE(o.volume_ul, 0) AS double precision) AS expected, CAST(COALESCE(i.volume_ul, 0) AS double precision) AS found FROM
				(SELECT jar_id, other_jar_id, SUM(volume_ul) AS volume_ul FROM stock_move WHERE kind = 'drawn in' GROUP BY jar_id, other_jar_id) AS i
				FULL JOIN (SELECT jar_id, other_jar_id, -SUM(volume_ul) AS volume_ul FROM stock_move WHERE kind = 'drawn out' GROUP BY jar_id, other_jar_id) AS o
					ON o.jar_id = i.other_jar_id AND o.other_jar_id = i.jar_id
				JOIN batch b ON b.id = COALESCE(i.jar_id, o.other_jar_id)
			WHERE COALESCE(i.volume_ul, 0) <> COALESCE(o.volume_ul, 0) ORDER BY b.code`,
	},
	{
		what: "what was made isn't what its first line says",
		unit: "mL",
		sql: `SELECT b.code, b.volume_l * ${UL_PER_L} AS expected, m.volume_ul AS found FROM batch b JOIN stock_move m ON m.jar_id = b.id AND m.kind = 'made'
			WHERE COALESCE(b.fill, 1) = 1 AND b.drawn_from_id IS NULL AND abs(b.volume_l * ${UL_PER_L} - m.volume_ul) > 1 ORDER BY b.code`,
	},
	{
		what: "it is called empty and isn't, or the other way round",
		unit: "mL",
		sql: "SELECT code, 0 AS expected, COALESCE(held_ul, 0) AS found FROM batch WHERE (state = 'empty' AND held_ul <> 0) OR (state IN ('in use', 'weak') AND held_ul = 0) OR (state = 'discarded' AND held_ul > 0) ORDER BY code",
	},
];
