import type { Highs, Model, ModelData } from "highs";

/** One term of a column: how much of a row one unit of it takes. */
export type Entry = readonly [row: number, value: number];

export interface SparseColumn {
	readonly cost: number;
	readonly most: number;
	readonly entries: readonly Entry[];
	readonly isWhole?: boolean;
}

/** A linear program that is put together column by column; everything is 0 or more, the cost is to be least. */
export class SparseProgram {
	private readonly lower: number[] = [];
	private readonly upper: number[] = [];
	private readonly columns: SparseColumn[] = [];

	/** @returns the index of the row */
	addRow(least: number, most: number): number {
		this.lower.push(least);
		return this.upper.push(most) - 1;
	}

	/** @returns the index of the column */
	addColumn(column: SparseColumn): number {
		return this.columns.push(column) - 1;
	}

	get size(): { readonly rows: number; readonly columns: number } {
		return { rows: this.lower.length, columns: this.columns.length };
	}

	/** Whoever asks for it must dispose of it: it lives outside the garbage collector's reach. */
	model(highs: Highs): Model {
		const { columns } = this;
		const finite = (value: number) => (Number.isFinite(value) ? value : Math.sign(value) * highs.infinity);
		const isWhole = columns.some((column) => column.isWhole);
		const data: ModelData = {
			numCols: columns.length,
			numRows: this.lower.length,
			...columnArrays(columns, finite),
			rowLower: Float64Array.from(this.lower, finite),
			rowUpper: Float64Array.from(this.upper, finite),
			matrix: { format: "csc", numRows: this.lower.length, numCols: columns.length, ...matrixOf(columns) },
			...(isWhole && { integrality: Int32Array.from(columns, (column) => (column.isWhole ? 1 : 0)) }),
		};
		const model = highs.createModel(data);
		model.options.set({ output_flag: false });
		return model;
	}

	/** Adds columns to a model that was made of this program, so that it goes on from where it stood. */
	extend(highs: Highs, model: Model, fresh: readonly SparseColumn[]): void {
		this.columns.push(...fresh);
		const finite = (value: number) => (Number.isFinite(value) ? value : highs.infinity);
		const { colCost: cost, colLower: lower, colUpper: upper } = columnArrays(fresh, finite);
		const matrix = { format: "csc" as const, numRows: this.lower.length, numCols: fresh.length, ...matrixOf(fresh) };
		model.addCols({ cost, lower, upper, matrix });
	}
}

function columnArrays(columns: readonly SparseColumn[], finite: (value: number) => number) {
	return {
		colCost: Float64Array.from(columns, (column) => column.cost),
		colLower: new Float64Array(columns.length),
		colUpper: Float64Array.from(columns, (column) => finite(column.most)),
	};
}

function matrixOf(columns: readonly SparseColumn[]) {
	const count = columns.reduce((sum, { entries }) => sum + entries.length, 0);
	const starts = new Int32Array(columns.length + 1);
	const indices = new Int32Array(count);
	const values = new Float64Array(count);
	let at = 0;
	for (const [c, { entries }] of columns.entries()) {
		starts[c] = at;
		for (const [row, value] of entries) {
			indices[at] = row;
			values[at++] = value;
		}
	}
	starts[columns.length] = at;
	return { starts, indices, values };
}
