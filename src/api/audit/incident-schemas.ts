import { z } from "zod";
import { incidentKinds } from "../../audit/incidents/list.js";
import { utc } from "../edge/fields.js";

export const kind = z.enum(incidentKinds().map(({ name }) => name));
export const state = z.enum(["open", "looked into", "closed"]);

const facts = z
	.record(z.string(), z.union([z.string(), z.number(), z.null()]))
	.meta({ description: "Codes and figures, each named with its unit" });

export const incident = z
	.strictObject({
		id: z.string(),
		kind,
		areaCode: z.string(),
		about: z.string().meta({ description: "What kind of thing it is about; its code stands in found.about" }),
		found: facts,
		state,
		happenedAt: utc,
		openedAt: utc,
		supervisorToldAt: utc.nullable().meta({ description: "When it was put into the supervisor's daily list" }),
		lookedIntoAt: utc.nullable(),
		lookedIntoBy: z.string().nullable().meta({ description: "Code of a person; null: the office, or nobody yet" }),
		closedAt: utc.nullable(),
		closedBy: z.string().nullable().meta({ description: "Code of a person; null: the office, or what came in since" }),
		closedBecause: z.string().nullable(),
	})
	.meta({ id: "Incident" });

const line = z
	.strictObject({
		at: utc,
		of: z.enum(["fact", "task", "message", "answer", "incident"]),
		what: z.string(),
		detail: facts,
	})
	.meta({ id: "IncidentLine" });

export const detail = z.strictObject({ ...incident.shape, timeLine: z.array(line) }).meta({ id: "IncidentInFull" });

export const closing = z
	.strictObject({ because: z.string().trim().min(3, "must say why, in a few words").max(500) })
	.meta({ id: "ClosingOfIncident" });

export const noting = z
	.strictObject({ note: z.string().trim().min(3, "must say what was found, in a few words").max(500) })
	.meta({ id: "NoteOfIncident" });

export const counts = z
	.strictObject({
		items: z.array(
			z.strictObject({ areaCode: z.string(), kind, opened: z.int(), closed: z.int() }).meta({ id: "IncidentCount" }),
		),
	})
	.meta({ id: "IncidentCounts" });
