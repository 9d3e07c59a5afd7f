import { valuesOf } from "../sql.js";
import type { UnitOfWork } from "../unit-of-work.js";
import { isEnvelope, isPlainInSql, isSealedInSql, keyIdOfColumn } from "./envelope.js";
import { isToBeSealed, isToBeSealedInSql, type SealedColumn } from "./sealed-columns.js";
import type { Sealing } from "./sealing.js";

const PAGE = 500;

interface Value {
	readonly id: string;
	readonly value: string;
}

/**
 * Seals the values of a column a page at a time, each page kept by itself: stopped in the middle, it goes on where it was.
 * @param work that writes values as they are given
 * @param which `plain`: those that aren't sealed; `old`: those that rest under another key than the one that seals now
 * @returns how many were sealed
 */
export async function resealed(
	work: UnitOfWork,
	{ keys }: Pick<Sealing, "keys">,
	column: SealedColumn,
	which: "plain" | "old",
): Promise<number> {
	const { table, key, label, blind } = column;
	const at = `x.${column.column}`;
	const condition =
		which === "plain"
			? `${isPlainInSql(at)} AND ${isToBeSealedInSql(column, at, work.kind)}`
			: `${isSealedInSql(at)} AND ${keyIdOfColumn(at, blind !== undefined)} <> '${keys.ids[0]}'`;
	for (let sealed = 0, after = ""; ; ) {
		const seen = await work.run(async (tx) => {
			const page = await tx.query<Value>(
				`SELECT x."${key}" AS id, ${at} AS value FROM "${table}" x WHERE x."${key}" > $1 AND ${condition} ORDER BY x."${key}" LIMIT ${PAGE}`,
				[after],
			);
			const rows = page
				.filter(({ value }) => isEnvelope(value) || isToBeSealed(column, value))
				.map(({ id, value }) => [id, keys.seal(label, isEnvelope(value) ? keys.open(label, value) : value, blind), value]);
			if (rows.length === 0) return page;
			const { text, parameters } = valuesOf(rows);
			// What somebody else has changed meanwhile is sealed already.
			await tx.affected(
				`UPDATE "${table}" AS x SET "${column.column}" = v.column2 FROM (VALUES ${text}) AS v WHERE x."${key}" = v.column1 AND ${at} = v.column3`,
				parameters,
			);
			return page;
		});
		sealed += seen.length;
		if (seen.length < PAGE) return sealed;
		after = seen.at(-1)?.id ?? "";
	}
}
