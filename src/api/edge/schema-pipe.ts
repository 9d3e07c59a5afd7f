import type { ArgumentMetadata, PipeTransform } from "@nestjs/common";
import { DefectError, InputError, type Problem } from "../../errors/errors.js";
import { pointerOf } from "./problem.js";

/** As zod reports it, of which Standard Schema promises only message and path. */
interface Issue {
	readonly message: string;
	readonly path?: readonly (PropertyKey | { readonly key: PropertyKey })[] | undefined;
	readonly code?: string;
	readonly keys?: readonly string[];
}

const MOST_PROBLEMS = 100;

/** Parses each body, query and path by the schema that stands at its parameter; from there on it is a plain typed value. */
export class SchemaPipe implements PipeTransform {
	async transform(value: unknown, metadata: ArgumentMetadata): Promise<unknown> {
		if (metadata.type === "custom") return value;
		if (!metadata.schema) throw new DefectError("a parameter of a route has no schema");
		const result = await metadata.schema["~standard"].validate(value);
		if (!result.issues) return result.value;
		const problems = (result.issues as readonly Issue[]).flatMap((issue) => problemsOf(issue, metadata.type === "body"));
		throw new InputError("invalid-input", detailOf(problems), { problems: problems.slice(0, MOST_PROBLEMS) });
	}
}

function problemsOf(issue: Issue, inBody: boolean): Problem[] {
	const path = (issue.path ?? []).map((part) => (typeof part === "object" ? part.key : part));
	const place = (at: readonly PropertyKey[]) => (inBody ? pointerOf(at) : String(at[0] ?? ""));
	if (issue.code === "unrecognized_keys" && issue.keys)
		return issue.keys.map((key) => ({ at: place([...path, shortened(key)]), message: "isn't known here" }));
	return [{ at: place(path), message: issue.message }];
}

/** Names of fields come from outside too. */
function shortened(key: string): string {
	return key.length > 60 ? `${[...key].slice(0, 60).join("")}…` : key;
}

function detailOf(problems: readonly Problem[]): string {
	const shown = problems.slice(0, 3).map(({ at, message }) => `${at || "the body"}: ${message}`);
	const more = problems.length > shown.length ? [`and ${problems.length - shown.length} more`] : [];
	return [...shown, ...more].join("; ");
}
