import type { Answer, Visit } from "../page.js";
import { within } from "../part.js";
import { orRefused } from "../refused.js";
import { addressOf, mapPage, NOBODY } from "./map.js";
import type { SupervisorParts } from "./parts.js";

interface Chosen {
	readonly householdCode: string;
	readonly volunteerCode: string | null;
}

/** Gives the households that were ticked to the volunteer who was chosen: all of them, or none. */
export async function assignChosen(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const { form, words } = visit;
	const picked = form.getAll("pick").flatMap((pick) => chosenOf(pick) ?? []);
	if (picked.length === 0) return mapPage(parts, visit, { why: words("map.noneChosen"), status: 422 });
	const to = form.get("to") ?? "";
	for (const { householdCode } of picked) await within(parts.store, visit, "household", householdCode);
	const toCode = to === NOBODY ? null : await within(parts.store, visit, "person", to);
	const result = await orRefused(() => parts.assignments.assignChosen(picked, toCode));
	if ("refused" in result) return mapPage(parts, visit, result.refused);
	const area = form.get("area");
	const back = addressOf({ area: area ? { code: area } : undefined, of: form.get("of") ?? "", after: form.get("after") ?? "" });
	return { seeOther: `${back}${back.includes("?") ? "&" : "?"}done=${result.done}` };
}

/** @returns what a ticked box of ours says; none where it isn't one of ours */
function chosenOf(pick: string): Chosen | undefined {
	try {
		const [householdCode, volunteerCode] = JSON.parse(pick) as unknown[];
		if (typeof householdCode !== "string" || (volunteerCode !== null && typeof volunteerCode !== "string")) return undefined;
		return { householdCode, volunteerCode };
	} catch {
		return undefined;
	}
}
