import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { instant, utc, utcOf } from "../edge/fields.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = {
	"-at": { column: "e.at_ms", property: "atMs", kind: "instant", descending: true },
	at: { column: "e.at_ms", property: "atMs", kind: "instant" },
} as const satisfies Record<string, Sort>;

/** Subjects that people call by a code; others go by their id. */
const WITH_CODE = ["task", "batch", "person", "household", "container", "generator", "area"] as const;

const query = pageQuery(sorts, {
	subject: z
		.string()
		.regex(/^[a-z][a-z ]{0,39}:.{1,64}$/, "must be a kind of subject, a colon, and its code or id, such as batch:JAR-017")
		.optional(),
	from: instant.optional(),
	to: instant.optional().meta({ description: "Not itself" }),
});

const entry = z
	.strictObject({
		id: z.string(),
		at: utc,
		actor: z.string().meta({ description: "Code of a person, or the part of the program that acted" }),
		action: z.string(),
		because: z.string().nullable().meta({ description: "Why, where it was said" }),
		origin: z.string().nullable().meta({
			description: "From where: a route with the request's id, a loop, a command; none in entries from before it was kept",
		}),
		subjectKind: z.string(),
		subjectId: z.string(),
		areaCode: z.string().nullable(),
		detail: z.record(z.string(), z.unknown()),
	})
	.meta({ id: "LedgerEntry" });

interface Row {
	readonly id: string;
	readonly atMs: number;
	readonly actor: string;
	readonly action: string;
	readonly because: string | null;
	readonly origin: string | null;
	readonly subjectKind: string;
	readonly subjectId: string;
	readonly areaCode: string | null;
	readonly detail: string;
}

@Controller()
export class LedgerController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/ledger",
		access: "audit",
		touches: ["list"],
		summary: "Lists every change: who, when, what, why, from where",
		answer: { description: "Entries, the newest first", schema: pageSchema(entry) },
	})
	listLedger(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const conditions = new Conditions(caller.reach.over("ledger entry", "e"));
		conditions.addIf(asked.subject, subjectCondition);
		conditions.addIf(asked.from, (place, value) => `e.at_ms >= ${place(value)}`);
		conditions.addIf(asked.to, (place, value) => `e.at_ms < ${place(value)}`);
		return pageOf<Row, z.output<typeof entry>>(
			this.store,
			`SELECT e.id, e.at_ms, COALESCE(p.code, e.actor) AS actor, e.action, e.because, e.origin, e.subject_kind, e.subject_id, a.code AS area_code, e.detail
			 FROM ledger_entry e LEFT JOIN person p ON p.id = e.actor LEFT JOIN area a ON a.id = e.area_id`,
			"e.id",
			sorts,
			asked,
			conditions,
			({ atMs, detail, ...item }) => ({ ...item, at: utcOf(atMs), detail: JSON.parse(detail) as Record<string, unknown> }),
		);
	}
}

function subjectCondition(place: (value: unknown) => string, subject: string): string {
	const colon = subject.indexOf(":");
	const [kind, name] = [subject.slice(0, colon), subject.slice(colon + 1)];
	const table = WITH_CODE.find((known) => known === kind);
	const byCode = table ? ` OR e.subject_id IN (SELECT id FROM ${table} WHERE code = ${place(name)})` : "";
	return `e.subject_kind = ${place(kind)} AND (e.subject_id = ${place(name)}${byCode})`;
}
