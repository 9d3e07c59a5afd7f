import { z } from "zod";
import { segmentsOf } from "../../messages/segments.js";
import { textOf } from "../../messages/texts.js";
import { currentPolicy } from "../../programme/policy.js";
import type { Store } from "../../store/store.js";

/** A text as a person will read it, with what it costs. */
export const textView = z
	.strictObject({
		text: z.string(),
		language: z.string().meta({ description: "BCP 47; the programme's where the person's has no such text" }),
		encoding: z.enum(["GSM-7", "UCS-2"]),
		units: z.int().meta({ description: "Septets of the GSM alphabet, or UTF-16 code units" }),
		segments: z.int().meta({ description: "Parts of SMS that are paid for" }),
	})
	.meta({ id: "TextView" });

export type TextView = z.output<typeof textView>;

/** @throws DefectError where the text can't be made from what it is filled with */
export async function viewOfText(
	store: Store,
	name: string,
	fill: Readonly<Record<string, unknown>>,
	language: string | undefined,
): Promise<TextView> {
	const fallback = (await currentPolicy(store)).language;
	const rendered = textOf(name, fill, language ?? fallback, fallback);
	return { ...rendered, ...segmentsOf(rendered.text) };
}
