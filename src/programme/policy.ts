import { z } from "zod";
import { InputError } from "../errors/errors.js";
import { kitNames } from "../science/kits.js";
import type { Transaction } from "../store/unit-of-work.js";
import { assignmentRules } from "./assignment-rules.js";
import { generatorRules } from "./generator-rules.js";
import { personalRules } from "./personal-rules.js";
import { stockRules } from "./stock-rules.js";
import { waterRules } from "./water-rules.js";

/** How so many mL of bleach are made up with water before the kit is read. */
const dilution = z.strictObject({ sampleMl: z.number().positive().max(100), madeUpToL: z.number().positive().max(20) });

/** No dose can be worked out outside of it, and less than 0.5 mg/L can't leave 0.5 mg/L after the wait (WHO). */
const DOSE_RIGHT = "must be 0.5 to 10 (mg/L)";
const doseMgPerL = z.number(DOSE_RIGHT).min(0.5, DOSE_RIGHT).max(10, DOSE_RIGHT);

/** One step of what follows when nobody answers. */
const ladderStep = z
	.strictObject({
		/** Since its assignee was told of the task, or it was put off or handed over. */
		afterHours: z.number().positive().max(720).optional(),
		afterMinutes: z.number().positive().max(43_200).optional(),
		to: z.enum(["assignee", "supervisor", "health office"]),
		/** working: only the hours count in which the assignee may be written to. */
		clock: z.enum(["wall", "working"]).default("wall"),
		/** How often it is taken, each time so many hours after the last. */
		times: z.int().min(1).max(10).default(1),
		everyHours: z.number().positive().max(720).optional(),
		/** Channels to be tried first, of those that the person has. */
		channels: z.array(z.string().min(1).max(100)).min(1).max(5).optional(),
		/** Goes at once and by itself; what isn't urgent is told to others once a day. */
		urgent: z.boolean().default(false),
	})
	.refine((step) => (step.afterHours === undefined) !== (step.afterMinutes === undefined), {
		error: "must say either afterHours or afterMinutes",
	})
	.refine((step) => step.times === 1 || step.everyHours !== undefined, {
		error: "must be given where times is more than 1",
		path: ["everyHours"],
	});

const ladder = z.array(ladderStep).max(10);

const measure = z.discriminatedUnion("kind", [
	z.strictObject({
		kind: z.literal("syringe"),
		capacityMl: z.number().positive().max(100),
		stepMl: z.number().positive().max(10),
	}),
	z.strictObject({ kind: z.literal("cap"), volumeMl: z.number().positive().max(50) }),
	z.strictObject({ kind: z.literal("spoon"), volumeMl: z.number().positive().max(50) }),
]);

/** How people are written to. */
const messages = z
	.strictObject({
		/** Tasks that come at one time for one person are told in one message. */
		together: z.boolean().default(true),
		/** Parts of SMS of one message that tells of several tasks; more tasks go into a further one. */
		longestSegments: z.int().min(1).max(10).default(3),
		/** Parts a person may get on one day about work that isn't urgent; the rest goes into the next day's. Common practice, no source. */
		segmentsPerPersonDay: z.int().min(1).max(10_000).default(12),
		/** Parts a month, UTC, for the whole programme; none: as many as it takes. */
		segmentsPerMonth: z.int().min(1).max(100_000_000).nullable().default(null),
		/** A reminder that couldn't go for so long is dropped with a record, and told anew as things are then; 720 at most. Own choice. */
		staleAfterHours: z.number().min(1).max(720).default(72),
		/** The same for single texts, by their names. */
		staleAfterHoursOf: z.record(z.string().min(1).max(100), z.number().min(1).max(720)).default({ "digest.late": 24 }),
		/** When a supervisor is told, once a day, what is late; her own wall time. */
		lateAt: z
			.string()
			.regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of day such as 08:00")
			.default("08:00"),
	})
	.refine((rules) => rules.segmentsPerPersonDay >= rules.longestSegments, {
		error: "must be at least longestSegments, or no message about several tasks could ever go",
		path: ["segmentsPerPersonDay"],
	});

/** A programme's own rules, each with the default that protects the drinker. */
export const policySchema = z.strictObject({
	/** Language of a text that a person's own catalogue lacks; BCP 47. */
	language: z.string().min(2).default("en"),
	/** A jar under this strength isn't used for drinking water: 70 % of 5 g/L, where chlorate at the double dose nears its guideline value. */
	usableLimitGPerL: z.number().min(0.5).max(10).default(3.5),
	/** A retest is due when the chance of being under the limit passes this. */
	toleratedChance: z.number().gt(0).lt(0.5).default(0.05),
	/** Never sooner than this after a test: she doses by the reading until then. Common practice, no source: every three days. */
	shortestRetestDays: z.number().positive().max(30).default(3),
	/** When somebody can't do a task, it is asked for again after this. */
	askAgainDays: z.number().positive().max(30).default(1),
	/** Never later than this, however sure the forecast. */
	longestRetestDays: z.number().positive().max(60).default(21),
	/** A fixed calendar in the place of the forecast: a jar is tested so many days after its making or its last test, and judged by that test alone. None: when the forecast asks for it. */
	retestEveryDays: z.number().positive().max(365).nullable().default(null),
	/** A jar's keeper is told her doses anew, without a test, when its strength has probably fallen to this share of what they were told by, and when she has collected it. None: after a test alone. */
	doseAnewShare: z.number().min(0.5).max(0.99).nullable().default(null),
	/**
	 * Doses are measured by the strength that bleach is weaker than with this chance, as far as the strongest that is believed stays within the
	 * guideline value: 0.5 is the likely one, less leaves a margin for weak bleach.
	 */
	doseAtChance: z.number().min(0.05).max(0.5).default(0.5),
	/** No jar is used for drinking water beyond this age. */
	oldestUseDays: z.number().positive().max(365).default(60),
	/** By its name in the list of kits. */
	testKit: z.enum(kitNames, `must be one of ${kitNames.join(", ")}`).default("comparator 0-5"),
	/** The dilutions that volunteers can make; the most telling one is asked for. */
	dilutions: z
		.array(dilution)
		.min(1)
		.default([
			{ sampleMl: 1, madeUpToL: 1 },
			{ sampleMl: 1, madeUpToL: 1.5 },
			{ sampleMl: 1, madeUpToL: 2 },
			{ sampleMl: 1, madeUpToL: 2.5 },
		]),
	doseMgPerL: z.strictObject({ clear: doseMgPerL, cloudy: doseMgPerL }).default({ clear: 1.875, cloudy: 3.75 }),
	measure: measure.default({ kind: "syringe", capacityMl: 10, stepMl: 0.5 }),
	/** What can't wait (a jar that is too weak, water that isn't fit to drink) is told at once, in quiet hours too. */
	urgentBreaksQuietHours: z.boolean().default(true),
	/** What follows when nobody answers, after the first message. */
	ladder: ladder.prefault([
		{ afterHours: 24, to: "assignee" },
		{ afterHours: 48, to: "supervisor" },
	]),
	/**
	 * So many days after the last step the ladder begins anew, with what is to be done as things are then: work isn't forgotten because
	 * nobody answered once. None: it ends. Own choice: four weeks.
	 */
	ladderAgainDays: z.number().positive().max(90).nullable().default(28),
	/** Another ladder for a kind of work, by its name. */
	ladders: z.record(z.string().min(1).max(100), ladder).default({}),
	/** The ladder of work that people wait for, such as a reading before anybody drinks: hours, not days. Own choice. */
	awaitedLadder: ladder.prefault([
		{ afterHours: 1, to: "assignee" },
		{ afterHours: 3, to: "supervisor" },
	]),
	messages: messages.prefault({}),
	water: waterRules.prefault({}),
	generators: generatorRules.prefault({}),
	stock: stockRules.prefault({}),
	assignment: assignmentRules.prefault({}),
	personal: personalRules.prefault({}),
});

export type Policy = z.output<typeof policySchema>;
export type { WaterRules } from "./water-rules.js";
export type LadderStep = Policy["ladder"][number];

/** @throws InputError `invalid-input` that names each field that isn't right */
export function policyFrom(value: unknown): Policy {
	const parsed = policySchema.safeParse(value);
	if (parsed.success) return parsed.data;
	const problems = parsed.error.issues.map((issue) => ({ at: `/${issue.path.join("/")}`, message: issue.message }));
	throw new InputError(
		"invalid-input",
		`The programme's rules can't be used: ${problems.map((p) => `${p.at} ${p.message}`).join("; ")}`,
		{
			problems,
		},
	);
}

/** @returns the rules that hold now; the defaults where none were set */
export async function currentPolicy(from: Pick<Transaction, "query">): Promise<Policy> {
	const [row] = await from.query<{ policy: string }>("SELECT policy FROM programme WHERE id = 'programme'");
	const text = row?.policy ?? "{}";
	if (text !== lastRead?.text) lastRead = { text, policy: policyFrom(JSON.parse(text)) };
	return lastRead.policy;
}

/** Every unit of work asks for the rules, and they hardly ever change: the same text is checked once. */
let lastRead: { readonly text: string; readonly policy: Policy } | undefined;
