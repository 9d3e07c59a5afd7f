import type { DataSource } from "typeorm";
import { JsonColumn, snakeCase, TextColumn } from "../columns.js";
import type { BlindKind } from "./blind.js";

/** How a column is sealed. */
export interface SealedAs {
	/** How its values are searched for; none: they aren't. */
	readonly blind?: BlindKind;
	/** Members of a JSON object: only what holds one of them is sealed. None: every value is. */
	readonly holding?: readonly string[];
	/** Another than that of an absent value. */
	readonly nullable?: boolean;
}

/** One column whose values rest sealed. */
export interface SealedColumn extends SealedAs {
	readonly table: string;
	readonly column: string;
	/** The table's key. */
	readonly key: string;
	/** `table.column`. */
	readonly label: string;
}

const marked: { readonly entity: object; readonly property: string; readonly as: SealedAs }[] = [];

/** A text about a person: it rests sealed, and is opened on its way out by the column that it comes from. */
export function SealedTextColumn(as: SealedAs = {}): PropertyDecorator {
	return sealed(as, TextColumn({ nullable: as.nullable ?? false }));
}

/** The same of JSON, where it holds one of the members that are about a person. */
export function SealedJsonColumn(as: SealedAs = {}): PropertyDecorator {
	return sealed(as, JsonColumn({ nullable: as.nullable ?? false }));
}

function sealed(as: SealedAs, column: PropertyDecorator): PropertyDecorator {
	return (target, property) => {
		marked.push({ entity: target.constructor, property: String(property), as });
		column(target, property);
	};
}

/** Of an index by a blind index: it is made by a migration, because the ORM knows only those by whole columns. */
export const notByColumn = { synchronize: false } as const;

/** @returns every column that the entities of a database mark as sealed */
export function sealedColumnsOf(source: DataSource): SealedColumn[] {
	return source.entityMetadatas.flatMap(({ target, tableName, primaryColumns }) =>
		marked
			.filter(({ entity }) => entity === target)
			.map(({ property, as }) => {
				const column = snakeCase(property);
				const key = primaryColumns[0]?.databaseName ?? "id";
				return { ...as, table: tableName, column, key, label: `${tableName}.${column}` };
			}),
	);
}

/** Whether a value of the column is to be sealed. */
export function isToBeSealed({ holding }: SealedAs, text: string): boolean {
	return text !== "" && (holding === undefined || holding.some((member) => text.includes(`"${member}":`)));
}

/** The same in SQL, of a column or of a value that comes in. */
export function isToBeSealedInSql({ holding }: SealedAs, column: string, kind: "sqlite" | "postgres"): string {
	const find = kind === "postgres" ? "strpos" : "instr";
	return holding === undefined ? "true" : `(${holding.map((member) => `${find}(${column}, '"${member}":') > 0`).join(" OR ")})`;
}
