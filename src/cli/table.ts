/**
 * Lines of a table: headings, then rows; columns as wide as their widest cell, those that hold numbers to the right.
 * The last cell of a row that has fewer cells than there are headings may run on over the columns that it leaves out.
 */
export function tableLines(headings: readonly string[], rows: readonly (readonly string[])[]): string[] {
	const inColumn = (row: readonly string[], column: number) =>
		row.length < headings.length && column === row.length - 1 ? "" : (row[column] ?? "");
	const columns = headings.map((heading, column) => ({
		width: Math.max(heading.length, ...rows.map((row) => inColumn(row, column).length)),
		holdsNumbers: rows.some((row) => NUMBER.test(inColumn(row, column))),
	}));
	const lineOf = (cells: readonly string[]) =>
		columns
			.map(({ width, holdsNumbers }, column) => {
				const cell = cells[column] ?? "";
				return holdsNumbers && inColumn(cells, column) !== "" ? cell.padStart(width) : cell.padEnd(width);
			})
			.join("  ")
			.trimEnd();
	return [lineOf(headings), ...rows.map(lineOf)];
}

const NUMBER = /^\d[\d.]*( %)?$/;
