import { DefectError } from "../../errors/errors.js";
import { Blind } from "./blind.js";
import { isEnvelope } from "./envelope.js";
import type { Keyring } from "./keyring.js";
import { isToBeSealed, type SealedColumn } from "./sealed-columns.js";
import { type Written, writtenBy } from "./written.js";

const MOST_KEPT = 500;

/**
 * Seals what goes into sealed columns and opens what comes out of them, for every statement, so that no service has to think of it.
 * What a statement reads is known by the column that each value comes from, not by its look.
 */
export class Sealing {
	private readonly byTable = new Map<string, SealedColumn[]>();
	private readonly written = new Map<string, Written>();

	constructor(
		readonly keys: Keyring,
		readonly columns: readonly SealedColumn[],
	) {
		for (const column of columns) this.byTable.set(column.table, [...(this.byTable.get(column.table) ?? []), column]);
	}

	of(table: string | null, column: string | null): SealedColumn | undefined {
		return table === null ? undefined : this.byTable.get(table)?.find((known) => known.column === column);
	}

	/** @returns the parameters of a statement as they go to the database */
	parameters(statement: string, given: readonly unknown[]): readonly unknown[] {
		if (given.length === 0) return given;
		const written = this.writtenBy(statement);
		if (written.size === 0 && !given.some((value) => value instanceof Blind)) return given;
		return given.map((value, at) => {
			const column = written.get(at);
			if (value instanceof Blind) return this.keys.blinds(value.kind, value.text);
			return column ? this.sealed(column, value) : value;
		});
	}

	/** @returns rows that are inserted, as they go to the database */
	rows(table: string, columns: readonly string[], rows: readonly (readonly unknown[])[]): readonly (readonly unknown[])[] {
		const sealed = this.byTable.has(table) ? columns.map((column) => this.of(table, column)) : [];
		if (!sealed.some(Boolean)) return rows;
		return rows.map((row) => row.map((value, at) => (sealed[at] ? this.sealed(sealed[at], value) : value)));
	}

	/**
	 * Opens values in place.
	 * @param from the sealed column of each place in a row; none: it isn't sealed
	 */
	open(from: readonly (SealedColumn | undefined)[], rows: readonly unknown[][]): void {
		for (const [at, column] of from.entries()) if (column) for (const row of rows) row[at] = this.opened(column, row[at]);
	}

	private writtenBy(statement: string): Written {
		let written = this.written.get(statement);
		if (written) return written;
		written = writtenBy(statement, (table) => this.byTable.get(table) ?? []);
		if (this.written.size >= MOST_KEPT) this.written.delete(this.written.keys().next().value as string);
		this.written.set(statement, written);
		return written;
	}

	private sealed(column: SealedColumn, value: unknown): unknown {
		if (value === null || value === undefined) return null;
		const text = typeof value === "string" ? value : JSON.stringify(value);
		return isToBeSealed(column, text) ? this.keys.seal(column.label, text, column.blind) : text;
	}

	private opened(column: SealedColumn, value: unknown): unknown {
		if (typeof value !== "string" || value === "") return value;
		if (isEnvelope(value)) return this.keys.open(column.label, value);
		if (!isToBeSealed(column, value)) return value;
		throw new DefectError(`${column.label} holds a value that isn't sealed: it was written by another program`);
	}
}
