import { z } from "zod";
import { localDate } from "../assignment/schemas.js";
import { code, instant, utc } from "../edge/fields.js";

const share = z.number().min(0).max(1);
const risk = z.number().min(0.001).max(0.5);

export const aims = z.discriminatedUnion("kind", [
	z
		.strictObject({
			kind: z.literal("classify"),
			targetShare: z.number().min(0.05).max(0.99),
			lowerShare: z.number().min(0).max(0.98),
			maximumAlpha: risk.default(0.1).meta({ description: "Chance that an area at the target is classed below it, at most" }),
			maximumBeta: risk
				.default(0.1)
				.meta({ description: "Chance that an area at the lower share is classed as reaching the target, at most" }),
		})
		.refine((one) => one.lowerShare < one.targetShare, { error: "must be under targetShare", path: ["lowerShare"] }),
	z.strictObject({
		kind: z.literal("estimate"),
		halfWidth: z.number().min(0.005).max(0.5),
		expectedShare: z.number().min(0.01).max(0.99).default(0.5),
		confidence: z.number().min(0.8).max(0.99).default(0.95),
	}),
	z.strictObject({ kind: z.literal("size"), households: z.int().min(1).max(5000) }),
]);

export const method = z.discriminatedUnion("kind", [
	z.strictObject({ kind: z.literal("simple") }),
	z.strictObject({
		kind: z.literal("two stage"),
		perCluster: z.int().min(1).max(200),
		intraclassCorrelation: z
			.number()
			.min(0)
			.max(1)
			.default(1 / 6)
			.meta({ description: "How much households of an area resemble each other; 1/6 was assumed for immunisation coverage" }),
	}),
]);

export const wantedSample = z
	.strictObject({
		areaCode: code,
		aims,
		method: method.default({ kind: "simple" }),
		seed: z
			.string()
			.regex(/^[\x21-\x7e]{1,100}$/, "must be 1 to 100 letters, digits or signs without spaces")
			.optional()
			.meta({ description: "Drawn in public, or agreed on before; left out: by chance" }),
		auditorCodes: z
			.array(code)
			.min(1)
			.max(200)
			.meta({ description: "Taken in turn; nobody where she looks after the household herself" }),
		reportedFrom: localDate
			.optional()
			.meta({ description: "Days whose readings by volunteers are compared; left out: 30 days up to today" }),
		reportedTo: localDate.optional(),
	})
	.meta({ id: "WantedSample" });

export const plan = z.strictObject({
	aims,
	method,
	households: z.int(),
	clusters: z.int().nullable(),
	designEffect: z.number(),
	lot: z
		.strictObject({ decisionRule: z.int(), alpha: z.number(), beta: z.number() })
		.nullable()
		.meta({ description: "Fewest that must pass, and both risks, exact; null for other aims" }),
});

export const sample = z
	.strictObject({
		id: z.string(),
		areaCode: z.string(),
		drawnAt: utc,
		seed: z.string(),
		method: z.string().meta({ description: "Name and version of how it was drawn; README.md says how to draw it again" }),
		frameSha256: z.string().meta({ description: "Of the list that it was drawn from" }),
		frameHouseholds: z.int(),
		plan,
		reportedFrom: localDate,
		reportedTo: localDate,
	})
	.meta({ id: "AuditSample" });

export const foundAtVisit = z
	.strictObject({
		outcome: z.enum(["seen", "refused", "absent"]),
		visitedAt: instant,
		byPersonCode: code,
		freeChlorineMgPerL: z.number().min(0).max(50).optional().meta({ description: "Left out: there was no water to read" }),
		treated: z.boolean().optional().meta({ description: "What the household said of its water, or what was seen" }),
		containerSeen: z.boolean().optional(),
		because: z.string().trim().min(1).max(300).optional().meta({ description: "Why it corrects what is on file" }),
	})
	.meta({ id: "FoundAtVisit" });

const bound = share.nullable();
const agreement = z.strictObject({
	pairs: z.int(),
	table: z.array(z.array(z.int())).meta({ description: "Rows: volunteers' last reading positive, not; columns: the auditor's" }),
	observed: z.number(),
	expected: z.number(),
	kappa: z.number().nullable(),
	standardError: z.number().nullable(),
	low: z.number().nullable(),
	high: z.number().nullable(),
	pabak: z.number().nullable(),
});

export const findings = z
	.strictObject({
		visits: z.strictObject({ seen: z.int(), refused: z.int(), absent: z.int(), open: z.int() }),
		estimates: z.array(
			z.strictObject({
				what: z.enum(["positive residual", "residual in the accepted range", "treated", "container seen"]),
				numerator: z.int(),
				denominator: z.int(),
				missing: z.int(),
				share: bound,
				low: bound,
				high: bound,
				interval: z.enum(["Wilson", "clusters, t", "none"]),
				designEffect: z.number().nullable(),
			}),
		),
		verdict: z
			.strictObject({
				class: z.enum(["reaches target", "below target", "open"]),
				decisionRule: z.int(),
				sampleSize: z.int(),
				passed: z.int(),
				missing: z.int().meta({ description: "Not read: whatever they were, the class stands, or it is open" }),
				alpha: z.number(),
				beta: z.number(),
			})
			.nullable(),
		agreement: agreement.nullable().meta({ description: "Of a positive residual; null: no household was read by both" }),
	})
	.meta({ id: "SampleFindings" });
