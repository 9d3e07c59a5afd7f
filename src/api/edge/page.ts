import { createHash } from "node:crypto";
import { z } from "zod";
import type { Limit } from "../../access/reach.js";
import type { Keyring } from "../../store/sealing/keyring.js";
import type { Store } from "../../store/store.js";
import { EdgeRefusal } from "./problem.js";
import { isWellFormedText } from "./well-formed.js";

/** One way to sort a list. The text goes into the statement, so it is never anything but a constant of ours. */
export interface Sort {
	/** A column that is never absent. */
	readonly column: string;
	/** Its name in the rows. */
	readonly property: string;
	readonly kind: "text" | "instant";
	readonly descending?: true;
	/** The column rests sealed, so that the database can't sort by it: all rows are opened and sorted here. For lists of thousands. */
	readonly isSealed?: true;
}

/** The conditions of one list, and their parameters; the first keeps it to the caller's part of the programme. */
export class Conditions {
	readonly texts: string[] = [];
	readonly parameters: unknown[] = [];

	constructor(limit: Limit) {
		this.add(limit.text);
	}

	/** @param text given a value, writes its place in the statement */
	add(text: (place: (value: unknown) => string) => string): void {
		this.texts.push(text((value) => `$${this.parameters.push(value)}`));
	}

	/** Adds the condition where a value was asked for. */
	addIf<T>(value: T | undefined, text: (place: (value: unknown) => string, value: T) => string): void {
		if (value !== undefined) this.add((place) => text(place, value));
	}
}

/** The parameters that every list takes, and its own. */
export function pageQuery<S extends string, F extends z.ZodRawShape>(sorts: Readonly<Record<S, Sort>>, filters: F) {
	const names = Object.keys(sorts) as [S, ...S[]];
	return z.strictObject({
		...filters,
		limit: z.coerce.number().int().min(1).max(1000).default(50),
		sort: z.enum(names).default(names[0]),
		cursor: z
			.string()
			.max(1000)
			.optional()
			.meta({ description: "`next` of the page before, with the other parameters as they were" }),
	});
}

/** One page of a list. */
export function pageSchema<T extends z.ZodType>(item: T) {
	return z.strictObject({
		items: z.array(item),
		next: z.string().nullable().meta({ description: "Asks for the next page as `cursor`; null: this was the last" }),
	});
}

interface Asked {
	readonly limit: number;
	readonly sort: string;
	readonly cursor?: string | undefined;
}

type WithId = { readonly id: string };

/**
 * Reads one page by the place where the last one ended, so that rows which come or go in between neither repeat nor hide others.
 * @param statement SELECT and FROM, without WHERE
 * @param idColumn breaks ties
 */
export async function pageOf<Row extends WithId, Item>(
	store: Store,
	statement: string,
	idColumn: string,
	sorts: Readonly<Record<string, Sort>>,
	query: Asked,
	conditions: Conditions,
	itemOf: (row: Row) => Item,
): Promise<{ items: Item[]; next: string | null }> {
	const { column, property, kind, descending, isSealed } = sorts[query.sort] as Sort;
	const asked = fingerprintOf(query);
	if (isSealed) return sealedPageOf(store.keys, await allOf<Row>(store, statement, conditions), property, asked, query, itemOf);
	const after = query.cursor === undefined ? undefined : placeOf(query.cursor, asked, kind);
	if (after)
		conditions.add((place) => `(${column}, ${idColumn}) ${descending ? "<" : ">"} (${place(after[0])}, ${place(after[1])})`);
	const where = conditions.texts.length > 0 ? `WHERE ${conditions.texts.join(" AND ")}` : "";
	const way = descending ? "DESC" : "ASC";
	const rows = await store.query<Row>(
		`${statement} ${where} ORDER BY ${column} ${way}, ${idColumn} ${way} LIMIT $${conditions.parameters.length + 1}`,
		[...conditions.parameters, query.limit + 1],
	);
	const shown = rows.slice(0, query.limit);
	const last = shown.at(-1);
	const next =
		rows.length > query.limit && last
			? cursorOf(asked, (last as unknown as Record<string, string | number>)[property]!, last.id)
			: null;
	return { items: shown.map(itemOf), next };
}

function allOf<Row extends object>(store: Store, statement: string, { texts, parameters }: Conditions): Promise<Row[]> {
	return store.query<Row>(`${statement} ${texts.length > 0 ? `WHERE ${texts.join(" AND ")}` : ""}`, parameters);
}

/** What rests sealed stands sealed in the cursor too: addresses are logged by whatever stands in between. */
function sealedPageOf<Row extends WithId, Item>(
	keys: Keyring,
	rows: Row[],
	property: string,
	asked: string,
	{ cursor, limit }: Asked,
	itemOf: (row: Row) => Item,
): { items: Item[]; next: string | null } {
	const placeOfRow = (row: Row) => [String((row as unknown as Record<string, unknown>)[property]), row.id] as const;
	const sorted = rows.toSorted((a, b) => (isBefore(placeOfRow(a), placeOfRow(b)) ? -1 : 1));
	const [sealed, id] = cursor === undefined ? [] : placeOf(cursor, asked, "text");
	const after = sealed === undefined ? undefined : ([openedPlace(keys, String(sealed)), id as string] as const);
	const rest = after ? sorted.filter((row) => isBefore(after, placeOfRow(row))) : sorted;
	const last = rest.at(limit - 1);
	const next = last && rest.length > limit ? cursorOf(asked, keys.seal(PLACE, placeOfRow(last)[0]), last.id) : null;
	return { items: rest.slice(0, limit).map(itemOf), next };
}

const PLACE = "cursor.value";

function openedPlace(keys: Keyring, sealed: string): string {
	try {
		return keys.open(PLACE, sealed);
	} catch {
		throw noPlace();
	}
}

function isBefore([value, id]: readonly [string, string], [other, otherId]: readonly [string, string]): boolean {
	return value === other ? id < otherId : value < other;
}

/** What a cursor belongs to: all that was asked for but the place and the length of a page. */
function fingerprintOf({ cursor: _cursor, limit: _limit, ...rest }: Asked): string {
	return createHash("sha256")
		.update(JSON.stringify(Object.entries(rest).sort()))
		.digest("base64url")
		.slice(0, 12);
}

function cursorOf(asked: string, value: string | number, id: string): string {
	return Buffer.from(JSON.stringify([asked, value, id])).toString("base64url");
}

const text = z.string().refine(isWellFormedText);
const places = { text: z.tuple([text, text, text]), instant: z.tuple([text, z.int(), text]) };

/** A cursor is only a place in a list of which every row may be seen anyway, so that it needs no signature. */
function placeOf(cursor: string, asked: string, kind: Sort["kind"]): readonly [string | number, string] {
	const [of, value, id] = places[kind].safeParse(parsedOrNothing(cursor)).data ?? [];
	if (of !== asked || value === undefined || id === undefined) throw noPlace();
	return [value, id];
}

function noPlace(): EdgeRefusal {
	const errors = [{ parameter: "cursor", detail: "must be `next` of the page before, with every other parameter as it was" }];
	return new EdgeRefusal(400, "invalid-input", "The cursor isn't one of this list.", {}, { errors });
}

function parsedOrNothing(cursor: string): unknown {
	try {
		return JSON.parse(Buffer.from(cursor, "base64url").toString("utf8"));
	} catch {
		return undefined;
	}
}
