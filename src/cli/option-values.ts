import { z } from "zod";
import { suggestion } from "../programme/import/nearest.js";
import type { Measure } from "../science/measures.js";

// Kinds of option value that several commands share. Each says what would be right, and quotes what was given.

const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)$/;

/** @returns a schema of one refusal, "must be ..., got ..."; "is needed: ..." where nothing was given */
export function textAs<T>(
	mustBe: string,
	parsedFrom: (text: string) => T | undefined,
	hint: (text: string) => string = () => "",
) {
	return z.string({ error: `is needed: ${mustBe}` }).transform((text, context): T => {
		const value = parsedFrom(text.trim());
		if (value !== undefined) return value;
		context.addIssue({ code: "custom", message: `must be ${mustBe}, got "${text}"${hint(text)}` });
		return z.NEVER;
	});
}

/** @returns the number that a text is, with a point and no exponent; undefined for anything else */
export function numberOf(text: string, lowest: number, highest: number): number | undefined {
	const value = NUMBER.test(text) ? Number(text) : Number.NaN;
	return value >= lowest && value <= highest ? value : undefined;
}

/** A number with its unit and range. */
export const numberBetween = (lowest: number, highest: number, unit: string) =>
	textAs(`a number from ${lowest} to ${highest}${unit && ` ${unit}`}`, (text) => numberOf(text, lowest, highest));

/** One of some names. */
export const oneOf = <Name extends string>(names: readonly Name[]) =>
	textAs(
		`one of ${names.map((name) => (name.includes(" ") ? `"${name}"` : name)).join(", ")}`,
		(text) => names.find((name) => name === text),
		(text) => suggestion(text, names),
	);

/** Several numbers with commas between them. */
export const numbersBetween = (lowest: number, highest: number, unit: string, most: number) =>
	textAs(`1 to ${most} numbers from ${lowest} to ${highest} ${unit} with commas between them`, (text) => {
		const numbers = text.split(",").map((part) => numberOf(part.trim(), lowest, highest));
		return numbers.length <= most && numbers.every((number) => number !== undefined) ? numbers : undefined;
	});

/** A switch. */
export const switchedOn = z.boolean().default(false);

/** A local date that exists. */
export const calendarDate = textAs("a date from 2000 to 2099 such as 2026-03-01", (text) =>
	/^20\d\d-/.test(text) && z.iso.date().safeParse(text).success ? text : undefined,
);

/** What bleach is measured with: `syringe:10:0.5` holds 10 mL in steps of 0.5 mL, `cap:5` and `spoon:5` hold 5 mL. */
export const measure = textAs<Measure>(
	"syringe:<mL it holds, 1 to 100>:<mL a step, 0.1 to 10>, cap:<mL, 0.5 to 50> or spoon:<mL, 0.5 to 50>",
	(text) => {
		const [kind, size = "", step = "", ...more] = text.split(":");
		if (kind === "syringe" && more.length === 0) {
			const capacityMl = numberOf(size, 1, 100);
			const stepMl = numberOf(step, 0.1, 10);
			return capacityMl !== undefined && stepMl !== undefined && stepMl <= capacityMl ? { kind, capacityMl, stepMl } : undefined;
		}
		const volumeMl = numberOf(size, 0.5, 50);
		if ((kind === "cap" || kind === "spoon") && volumeMl !== undefined && step === "") return { kind, volumeMl };
		return undefined;
	},
);
