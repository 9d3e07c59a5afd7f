import { z } from "zod";
import type { ProtocolVersion } from "../../water/protocol/accept.js";
import { needsCheckBeforeDrinking } from "../../water/protocol/dose-findings.js";
import { protocolSchema } from "../../water/protocol/protocol.js";
import { code, utc, utcOf } from "../edge/fields.js";

export const versionPath = z.strictObject({ code, version: z.coerce.number().int().min(1).max(100_000) });

export const findingSchema = z
	.strictObject({
		severity: z.enum(["refuse", "warn", "note"]),
		code: z.string(),
		sentence: z.string(),
		at: z.string().meta({ description: "JSON Pointer (RFC 6901) into the protocol" }),
		figures: z.record(z.string(), z.number()).meta({ description: "The figures of the sentence, each named with its unit" }),
	})
	.meta({ id: "ProtocolFinding" });

const summary = z.strictObject({
	code: z.string(),
	version: z.int(),
	title: z.string(),
	acceptedAt: utc,
	isDefault: z.boolean().meta({ description: "Households that follow none yet begin with it" }),
});

export const protocolSummary = summary.meta({ id: "ProtocolSummary" });

export const versionSchema = summary
	.extend({
		needsCheckBeforeDrinking: z.boolean().meta({
			description:
				"Worked out from its doses, whatever it says itself: a dose could leave more than 5 mg/L, or too little, so that nobody drinks before the residual is read",
		}),
		drinkFrom: protocolSchema.shape.drinkFrom,
		findings: z.array(findingSchema),
		protocol: protocolSchema,
	})
	.meta({ id: "ProtocolVersion" });

type Listed = Pick<ProtocolVersion, "id" | "code" | "version" | "title" | "acceptedAtMs">;

export function summaryView({ id, acceptedAtMs, code, version, title }: Listed, defaultId: string | undefined) {
	return { code, version, title, acceptedAt: utcOf(acceptedAtMs), isDefault: id === defaultId };
}

export function versionView(version: ProtocolVersion, defaultId: string | undefined): z.output<typeof versionSchema> {
	return {
		...summaryView(version, defaultId),
		needsCheckBeforeDrinking: needsCheckBeforeDrinking(version.body),
		drinkFrom: version.body.drinkFrom,
		findings: [...version.findings],
		protocol: version.body,
	};
}
