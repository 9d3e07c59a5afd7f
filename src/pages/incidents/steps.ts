import type { z } from "zod";
import { closing, noting } from "../../api/audit/incident-schemas.js";
import type { Answer, Visit } from "../page.js";
import { callerOf, within } from "../part.js";
import { orRefused } from "../refused.js";
import { type IncidentParts, type IncidentPlace, incidentPage } from "./incident.js";
import type { DONE } from "./step-forms.js";

export async function takeUp(parts: IncidentParts, visit: Visit, place: IncidentPlace): Promise<Answer> {
	return stepped(parts, visit, place, "taken", (id, by, read) => parts.followUp.lookInto(id, by, read));
}

export async function noteFound(parts: IncidentParts, visit: Visit, place: IncidentPlace): Promise<Answer> {
	const note = saidIn(visit, "note", noting.shape.note);
	if (note === undefined) return tooShort(parts, visit, place, "note");
	return stepped(parts, visit, place, "noted", (id, by, read) => parts.followUp.note(id, note, by, read));
}

export async function closeIt(parts: IncidentParts, visit: Visit, place: IncidentPlace): Promise<Answer> {
	const because = saidIn(visit, "because", closing.shape.because);
	if (because === undefined) return tooShort(parts, visit, place, "because");
	return stepped(parts, visit, place, "closed", (id, by, read) => parts.followUp.close(id, because, by, read));
}

function saidIn({ form }: Visit, name: string, schema: z.ZodType<string>): string | undefined {
	const parsed = schema.safeParse(form.get(name) ?? "");
	return parsed.success ? parsed.data : undefined;
}

function tooShort(parts: IncidentParts, visit: Visit, place: IncidentPlace, name: string): Promise<Answer> {
	return incidentPage(parts, visit, place, { status: 422, faults: new Map([[name, visit.words("incidents.few")]]) });
}

async function stepped(
	parts: IncidentParts,
	visit: Visit,
	place: IncidentPlace,
	done: (typeof DONE)[number],
	step: (id: string, byPersonId: string | null, read: string) => Promise<void>,
): Promise<Answer> {
	const id = await within(parts.store, visit, "incident", visit.named["id"] as string);
	const result = await orRefused(() => step(id, callerOf(visit).personId, visit.form.get("version") ?? ""));
	if ("refused" in result) return incidentPage(parts, visit, place, { status: result.refused.status, refused: result.refused });
	return { seeOther: `${place.path}/${id}?is=${done}` };
}
