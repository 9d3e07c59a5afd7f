import { DefectError } from "../errors/errors.js";
import { fillingsOf, isTextName, lineNameOf } from "../messages/text-names.js";
import type { DutyKind } from "./kind.js";

/** Every kind of due work by its name; start-up refuses two of one name. */
export class DutyKinds {
	private readonly byName: ReadonlyMap<string, DutyKind>;

	constructor(kinds: readonly DutyKind[]) {
		this.byName = new Map(kinds.map((kind) => [kind.name, kind]));
		if (this.byName.size !== kinds.length) throw new DefectError("two kinds of due work bear one name");
		const problems = kinds.flatMap(lineProblems);
		if (problems.length > 0) throw new DefectError(`A kind of due work can't be told of among others: ${problems.join("; ")}`);
	}

	get all(): readonly DutyKind[] {
		return [...this.byName.values()];
	}

	named(name: string): DutyKind {
		const kind = this.byName.get(name);
		if (!kind) throw new DefectError(`no kind of due work is named "${name}"`);
		return kind;
	}
}

/** A message that tells of several tasks has a short line for each, filled with what the kind's first text is filled with. */
function lineProblems({ name, texts: { first, again, supervisor } }: DutyKind): string[] {
	const lines = [...new Set([first, again, supervisor].map(lineNameOf))];
	return lines.flatMap((line) => {
		if (!isTextName(line)) return [`"${name}" lacks the text ${line}`];
		const filled = isTextName(first) ? fillingsOf(first) : {};
		const missing = Object.keys(fillingsOf(line)).filter((placeholder) => !Object.hasOwn(filled, placeholder));
		return missing.map((placeholder) => `${line} asks for {${placeholder}}, with which ${first} isn't filled`);
	});
}
