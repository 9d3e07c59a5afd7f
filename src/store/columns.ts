import { Column, type ColumnOptions, DefaultNamingStrategy, PrimaryColumn } from "typeorm";

// One helper a kind of value, with a type name that SQLite and PostgreSQL both know, so that one entity serves both.

/** A text id made by the application. */
export const IdColumn = () => PrimaryColumn({ type: "text" });

/** A place in an order, counted by the application: a number in rows, a whole number in both databases. */
export const PositionKeyColumn = () => PrimaryColumn({ type: "bigint" });

export const TextColumn = (options: ColumnOptions = {}) => Column({ type: "text", ...options });

/** An instant in epoch milliseconds: a number in rows, a whole number in both databases. */
export const InstantColumn = (options: ColumnOptions = {}) => Column({ type: "bigint", ...options });

export const WholeColumn = (options: ColumnOptions = {}) => Column({ type: "integer", ...options });

export const RealColumn = (options: ColumnOptions = {}) => Column({ type: "double precision", ...options });

export const FlagColumn = (options: ColumnOptions = {}) => Column({ type: "boolean", ...options });

/** A plain value kept as JSON text, parsed on the way out. */
export const JsonColumn = (options: ColumnOptions = {}) => Column({ type: "simple-json", ...options });

export const optional = { nullable: true } as const;

/** `strengthGPerL` in code is `strength_g_per_l` in the database. */
export class SnakeCase extends DefaultNamingStrategy {
	override columnName(propertyName: string, customName: string | undefined): string {
		return customName ?? snakeCase(propertyName);
	}
}

/** @returns the column name of a property name: `madeAtMs` gives `made_at_ms` */
export function snakeCase(name: string): string {
	return name.replace(/(?<=[a-z0-9])([A-Z])|(?<!^)([A-Z])(?=[a-z])|(?<=[A-Z])([A-Z])/g, (letter) => `_${letter}`).toLowerCase();
}

/** @returns the property name of a column name: `made_at_ms` gives `madeAtMs` */
export function camelCase(name: string): string {
	return name.replace(/_([a-z0-9])/g, (_, letter: string) => letter.toUpperCase());
}
