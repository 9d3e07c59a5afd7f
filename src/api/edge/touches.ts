import type { FastifyRequest } from "fastify";
import type { Caller } from "../../access/caller.js";
import { Reach } from "../../access/reach.js";
import { SUBJECTS, type SubjectKind } from "../../access/subjects.js";
import { DefectError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";

type Source = "path" | "query" | "body";

/**
 * What a route touches: a thing that the request names (`"task path.code"`, `"person body.toPersonCode"`, each of a list as
 * `"household body.householdCodes[]"`; `"new batch body.into.code"` where nothing may have the name yet), rows that its statement keeps to the caller's reach (`"list"`), the programme as a whole
 * (`"whole"`), the caller's own sign-in (`"own"`), or nothing that is anybody's (`"nothing"`).
 */
export type Touch = "list" | "whole" | "own" | "nothing" | `${"new " | ""}${SubjectKind} ${Source}.${string}`;

interface Named {
	readonly kind: SubjectKind;
	/** It may name nothing yet. */
	readonly isNew: boolean;
	readonly source: Source;
	readonly path: readonly string[];
}

const WHOLE_ONES: readonly string[] = ["list", "whole", "own", "nothing"];
const NAMED = /^(new )?([a-z ]+) (path|query|body)\.([A-Za-z[\].]+)$/;

/** @throws DefectError where it isn't one: the service doesn't start with such a route */
export function namedIn(touches: readonly string[]): Named[] {
	return touches
		.filter((touch) => !WHOLE_ONES.includes(touch))
		.map((touch) => {
			const [, isNew, kind, source, path] = NAMED.exec(touch) ?? [];
			if (kind === undefined || path === undefined || !Object.hasOwn(SUBJECTS, kind))
				throw new DefectError(`a route says that it touches "${touch}", which nothing here is`);
			return {
				kind: kind as SubjectKind,
				isNew: isNew !== undefined,
				source: source as Source,
				path: path.replaceAll("[]", ".[]").split("."),
			};
		});
}

/**
 * Names nothing: codes begin with a letter or digit, and ids are longer. What is outside the caller's part is asked for under this name,
 * so that the answer is the same as for what doesn't exist, whatever the route answers then.
 */
const NOTHING = { code: "-outside-", id: "0" } as const;

const EVERYTHING = new Reach("whole");

/** Puts a name that nothing has in the place of each that names something outside the caller's part. */
export async function keepWithinPart(
	request: FastifyRequest,
	{ reach }: Caller,
	touches: readonly Touch[],
	sources: readonly Source[],
	store: Store,
): Promise<void> {
	if (reach.isWhole) return;
	for (const { kind, isNew, source, path } of namedIn(touches)) {
		if (!sources.includes(source)) continue;
		const from = source === "path" ? request.params : source === "query" ? request.query : request.body;
		await replaced(from, path, async (given) => {
			const name = kind === "task" ? given.trim().toUpperCase() : given.trim();
			// What was looked at is what is asked for, to the letter.
			const isWithin = (await reach.has(store, kind, name)) || (isNew && !(await EVERYTHING.has(store, kind, name)));
			return isWithin ? name : NOTHING[SUBJECTS[kind].named];
		});
	}
}

async function replaced(holder: unknown, path: readonly string[], within: (name: string) => Promise<string>): Promise<void> {
	const [step, ...rest] = path;
	if (typeof holder !== "object" || holder === null || step === undefined) return;
	const keys = step === "[]" ? (Array.isArray(holder) ? [...holder.keys()].map(String) : []) : [step];
	for (const key of keys) {
		if (!Object.hasOwn(holder, key)) continue;
		const found = (holder as Record<string, unknown>)[key];
		if (rest.length > 0) await replaced(found, rest, within);
		// What isn't text is refused by the route's own schema.
		else if (typeof found === "string") (holder as Record<string, unknown>)[key] = await within(found);
	}
}
