import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { edgeBefore, endOf, startOf } from "./ends.js";

// A programme's written protocol is plain values with a version: what it says can be read, checked and kept, and no rule hides in code.

const code = z
	.string()
	.regex(/^[a-z0-9]+(-[a-z0-9]+)*$/, "must be small letters, digits and single hyphens, as in two-dose")
	.max(40);
const text = z.string().trim().min(1).max(800);
const milligrams = z.number().nonnegative().max(100);

/** What is done: a code for the catalogues, what kind of act it is for the checker, and the words in English. */
const action = z.strictObject({
	code,
	does: z.enum(["drink", "doseAgain", "lowerChlorine", "discard", "otherSource"]),
	text,
});

/** The protocol's own contact time, or minutes. */
const wait = z.union([z.literal("contact"), z.number().int().positive().max(10_080)]);

const next = z.union([
	z.strictObject({ check: code, afterMinutes: wait }),
	z.strictObject({ end: z.enum(["drink", "discard", "otherSource"]) }),
]);

const outcome = { action, tellSupervisor: z.boolean(), next };

const band = z
	.strictObject({
		code,
		/** The low end: a reading of this much is in the band. */
		fromMgPerL: milligrams.optional(),
		/** The low end: this much isn't in the band any more. */
		overMgPerL: milligrams.optional(),
		/** The high end: this much isn't in the band any more. Without a high end the band is open. */
		belowMgPerL: milligrams.optional(),
		/** The high end: a reading of this much is in the band. */
		upToMgPerL: milligrams.optional(),
		meaning: z.enum(["fit", "tooLow", "tooHigh"]),
		...outcome,
		/** What holds from the given time on that a reading of the same fill falls in this band at this check. */
		repeated: z.strictObject({ time: z.number().int().min(2).max(5), ...outcome }).optional(),
	})
	.refine((b) => (b.fromMgPerL === undefined) !== (b.overMgPerL === undefined), {
		error: "must have one low end: fromMgPerL or overMgPerL",
	})
	.refine((b) => b.belowMgPerL === undefined || b.upToMgPerL === undefined, {
		error: "must have one high end at most: belowMgPerL or upToMgPerL",
	})
	.refine((b) => edgeBefore(startOf(b), endOf(b)), { error: "must have its low end under its high end" })
	.refine((b) => !b.repeated || "check" in b.next, {
		error: "ends at the first time, so nothing can be said of a repeated one",
	});

const bands = z.array(band).min(1).max(20);

/** A check of the residual: when it is taken, and what each reading means. */
const check = z.strictObject({
	code,
	title: text,
	/** What the reading is held against: 0.5 mg/L after the contact time, 0.2 mg/L where water is used. */
	kind: z.enum(["afterContact", "pointOfUse"]),
	/** How one comes to it besides from another check: it follows a dose, or is taken at a visit; null: from checks alone. */
	begins: z.enum(["afterDose", "atVisit"]).nullable(),
	bands,
	/** In place of `bands` where the pH is known to be 8 or more. */
	bandsAtPH8AndOver: bands.optional(),
});

const dose = z.strictObject({
	give: z.union([
		z.strictObject({ mgPerL: z.number().positive().max(20) }),
		z.strictObject({ mlPerL: z.number().positive().max(50), nominalStrengthGPerL: z.number().min(0.5).max(150) }),
	]),
	/** Hours within which the treated water is used; null: the protocol doesn't say. */
	useWithinHours: z.number().positive().max(168).nullable(),
});

export const protocolSchema = z
	.strictObject({
		code,
		version: z.number().int().positive().max(100_000),
		title: text,
		source: z.discriminatedUnion("kind", [
			z.strictObject({ kind: z.literal("published"), sources: z.array(text).min(1).max(30) }),
			z.strictObject({ kind: z.literal("common practice, no source") }),
		]),
		notes: z.array(text).max(30),
		/** What was changed from the text as taught, each time on the drinker's side. */
		closings: z.array(text).max(60),
		/** What is done before a dose, by how cloudy the water is. */
		pretreatment: z.array(z.strictObject({ turbidity: z.enum(["cloudy", "veryTurbid"]), code, text })).max(10),
		/** By the class after the pretreatment: clear under 10 NTU, cloudy to 100, very turbid over 100; null: not dosed. */
		doses: z.strictObject({ clear: dose, cloudy: dose, veryTurbid: dose.nullable() }),
		/** When the dose is given twofold, once, whichever holds; null: never. */
		doubling: z.strictObject({ belowC: z.number().min(1).max(30).nullable(), whenNotClear: z.boolean() }).nullable(),
		contact: z.strictObject({
			minutes: z.number().int().positive().max(1440),
			/** The wait doubles for each so many °C under the limit; null: cold changes nothing. */
			cold: z.strictObject({ belowC: z.number().min(1).max(30), doubledEachC: z.number().min(1).max(30) }).nullable(),
			factorAtPH8AndOver: z.number().min(1).max(4),
		}),
		/** From when water is drunk: once the contact time is over, or once a reading has been found fit. */
		drinkFrom: z.enum(["contactTime", "fitReading"]),
		checks: z.array(check).min(1).max(12),
	})
	.superRefine((protocol, context) => {
		const problem = (path: (string | number)[], message: string) => context.addIssue({ code: "custom", path, message });
		const known = new Set(protocol.checks.map((one) => one.code));
		if (known.size < protocol.checks.length) problem(["checks"], "has two checks of one code");
		if (protocol.checks.filter(({ begins }) => begins === "afterDose").length !== 1)
			problem(["checks"], "must have one check that begins afterDose");
		if (protocol.checks.filter(({ begins }) => begins === "atVisit").length > 1)
			problem(["checks"], "has more than one check that begins atVisit");
		for (const [c, one] of protocol.checks.entries()) {
			if (one.begins === "afterDose" && one.kind !== "afterContact")
				problem(["checks", c, "kind"], "must be afterContact where the check begins afterDose");
			for (const list of ["bands", "bandsAtPH8AndOver"] as const) {
				const inList = one[list] ?? [];
				if (new Set(inList.map((b) => b.code)).size < inList.length) problem(["checks", c, list], "has two bands of one code");
				for (const [b, { next: first, repeated }] of inList.entries()) {
					for (const [at, to] of [
						[["next"], first],
						[["repeated", "next"], repeated?.next],
					] as const) {
						if (to && "check" in to && !known.has(to.check))
							problem(["checks", c, list, b, ...at, "check"], `must be the code of a check here (${[...known].join(", ")})`);
					}
				}
			}
		}
	});

/** A programme's written protocol. */
export type Protocol = z.output<typeof protocolSchema>;
export type Check = Protocol["checks"][number];
export type Band = Check["bands"][number];
/** What follows from a reading: what is done, who is told, and the next check or the end. */
export type Outcome = Pick<Band, "action" | "tellSupervisor" | "next">;
export type ProtocolAction = Band["action"];
export type Meaning = Band["meaning"];
export type End = Exclude<Outcome["next"], { check: string }>["end"];
export type ProtocolDose = Protocol["doses"]["clear"];

/** Where the bands of a check are written: for any water, and for water of pH 8 and over. */
export const BAND_LISTS = ["bands", "bandsAtPH8AndOver"] as const;

/**
 * A protocol from plain values.
 * @returns the protocol, its form checked: what it says is checked by `protocolFindings`
 * @throws InputError `invalid-input` that names each field that isn't right
 */
export function protocolFrom(value: unknown): Protocol {
	const parsed = protocolSchema.safeParse(value);
	if (parsed.success) return parsed.data;
	const problems = parsed.error.issues.map((issue) => ({ at: `/${issue.path.join("/")}`, message: issue.message }));
	throw new InputError("invalid-input", `The protocol can't be read: ${problems.map((p) => `${p.at} ${p.message}`).join("; ")}`, {
		problems,
	});
}
