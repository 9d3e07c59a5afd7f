import { wantedCapacity } from "../../api/assignment/capacities.js";
import { numberIn } from "../fields.js";
import type { Answer, Visit } from "../page.js";
import { within } from "../part.js";
import { orRefused } from "../refused.js";
import { FIELDS } from "./capacity-form.js";
import type { SupervisorParts } from "./parts.js";
import { personPage } from "./person.js";

/** Keeps what she can take on; where somebody else said something else meanwhile, nothing is kept, and that is shown. */
export async function changeCapacity(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const { form, words, named } = visit;
	const code = await within(parts.store, visit, "person", named["code"] as string);
	const text = (name: string) => (form.get(name) ?? "").trim() || null;
	const given = Object.fromEntries(
		FIELDS.map(([name, , { isNumber }]) => [name, isNumber ? (numberIn(form, name) ?? null) : text(name)]),
	);
	const parsed = wantedCapacity.safeParse(given);
	if (!parsed.success) {
		const faults = new Map(
			parsed.error.issues.map(({ path, code: what }): [string, string] => [
				String(path[0]),
				words(what === "custom" ? (path[0] === "worksUntil" ? "capacity.later" : "capacity.both") : "capacity.wrong"),
			]),
		);
		return personPage(parts, visit, undefined, faults);
	}
	const result = await orRefused(() => parts.capacities.change(code, parsed.data, form.get("tag") ?? ""));
	if ("refused" in result) return personPage(parts, visit, result.refused);
	return { seeOther: `/team/people/${encodeURIComponent(code)}?saved=1` };
}
