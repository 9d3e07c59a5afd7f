/** @returns lines of a table: headings, then rows; columns as wide as their widest cell, numbers to the right */
export function tableLines(headings: readonly string[], rows: readonly (readonly string[])[]): string[] {
	const widths = headings.map((heading, column) => Math.max(heading.length, ...rows.map((row) => (row[column] ?? "").length)));
	const isNumber = headings.map((_, column) => rows.every((row) => /^[-\d][\d. %-]*$|^$|^-$/.test(row[column] ?? "")));
	const lineOf = (cells: readonly string[]) =>
		cells
			.map((cell, column) => (isNumber[column] ? cell.padStart(widths[column] as number) : cell.padEnd(widths[column] as number)))
			.join("  ")
			.trimEnd();
	return [lineOf(headings), ...rows.map(lineOf)];
}
