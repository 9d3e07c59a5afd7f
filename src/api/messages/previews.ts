import { Body, Controller } from "@nestjs/common";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { fillingsOf, TEXTS, type TextName } from "../../messages/text-names.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { code } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";
import { textView, viewOfText } from "./text-view.js";

const asked = z
	.strictObject({
		personCode: code.meta({ description: "Whose language it is read in" }),
		text: z.enum(Object.keys(TEXTS) as [TextName, ...TextName[]]).meta({ description: "Name of the text in the catalogues" }),
		fill: z
			.record(z.string().max(60), z.union([z.string().max(500), z.number()]))
			.default({})
			.meta({ description: "Values of its placeholders: text, numbers, local dates as year-month-day" }),
	})
	.meta({ id: "TextPreview" });

@Controller()
export class PreviewsController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "POST",
		path: "/messages/preview",
		access: "oversee",
		touches: ["person body.personCode"],
		summary: "Shows a text as a person would read it, and what it would cost; nothing is sent",
		answer: { description: "The text with its parts", schema: textView },
	})
	async previewText(@Body({ schema: asked }) { personCode, text, fill }: z.output<typeof asked>) {
		const id = await idNamed(this.store, "person", personCode, "/personCode");
		checkFill(text, fill);
		const [person] = await this.store.query<{ language: string }>("SELECT language FROM person WHERE id = $1", [id]);
		return viewOfText(this.store, text, fill, person?.language);
	}
}

function checkFill(name: TextName, fill: Readonly<Record<string, string | number>>): void {
	const problems = Object.entries(fillingsOf(name)).flatMap(([placeholder, filling]) => {
		const value = fill[placeholder];
		const isRight =
			filling === "number" ? typeof value === "number" : filling === "date" ? isLocalDate(value) : value !== undefined;
		const right = { number: "a number", date: "a date as year-month-day, such as 2025-03-09", text: "text" }[filling];
		return isRight ? [] : [{ at: `/fill/${placeholder}`, message: `must be ${right}` }];
	});
	if (problems.length > 0) throw new InputError("invalid-input", `The text "${name}" can't be made from this.`, { problems });
}

function isLocalDate(value: unknown): boolean {
	return z.iso.date().safeParse(value).success;
}
