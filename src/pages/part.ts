import type { FastifyRequest } from "fastify";
import type { Caller } from "../access/caller.js";
import type { SubjectKind } from "../access/subjects.js";
import { Conditions } from "../api/edge/page.js";
import { DefectError, InputError } from "../errors/errors.js";
import type { Store } from "../store/store.js";

interface Asking {
	readonly request: FastifyRequest;
}

/** Who asks for a page of those who lead, with how far her hand reaches. */
export function callerOf({ request }: Asking): Caller {
	if (!request.caller) throw new DefectError("a page of those who lead is asked for by nobody");
	return request.caller;
}

/** Conditions of a list that is kept to the part of whoever asks. @param x alias of the subject's table */
export function inPartOf(visit: Asking, kind: SubjectKind, x: string): Conditions {
	return new Conditions(callerOf(visit).reach.over(kind, x));
}

/** @returns the name of a thing in the part of whoever asks. @throws InputError 404 where there is none, or it is another's */
export async function within(store: Store, visit: Asking, kind: SubjectKind, name: string): Promise<string> {
	if (await isWithin(store, visit, kind, name)) return name;
	throw new InputError("unknown-subject", `There is no ${kind} of this name.`, { status: 404 });
}

export async function isWithin(store: Store, visit: Asking, kind: SubjectKind, name: string): Promise<boolean> {
	return NAME.test(name) && (await callerOf(visit).reach.has(store, kind, name));
}

/** Names as imports and ids have them; what holds anything else names nothing. */
const NAME = /^[\p{L}\p{N}][^\p{C}\p{Z}]{0,63}$/u;

/** An area of one's part. */
export interface OwnArea {
	readonly id: string;
	readonly code: string;
	readonly name: string;
	readonly timeZone: string;
	readonly isTop: boolean;
}

const MOST_AREAS = 500;

/** @returns the areas of the part of whoever asks: first those above which nothing is hers, each group by code */
export async function ownAreas(store: Store, visit: Asking): Promise<OwnArea[]> {
	const { texts, parameters } = inPartOf(visit, "area", "a");
	const rows = await store.query<Omit<OwnArea, "isTop"> & { parentId: string | null }>(
		`SELECT a.id, a.code, a.name, a.time_zone, a.parent_id FROM area a WHERE ${texts.join(" AND ")} ORDER BY a.code LIMIT ${MOST_AREAS}`,
		parameters,
	);
	const own = new Set(rows.map(({ id }) => id));
	const areas = rows.map(({ parentId, ...area }) => ({ ...area, isTop: parentId === null || !own.has(parentId) }));
	return [...areas.filter(({ isTop }) => isTop), ...areas.filter(({ isTop }) => !isTop)];
}
