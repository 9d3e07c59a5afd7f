import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import { type Catalogue, catalogues, reviewOf } from "../../messages/catalogues.js";
import { TEXTS } from "../../messages/text-names.js";
import { Endpoint } from "../edge/endpoint.js";

const LANGUAGES = catalogues.map(({ language }) => language) as [string, ...string[]];

const query = z.strictObject({ language: z.enum(LANGUAGES).meta({ description: "BCP 47, without a region" }) });

const answer = z
	.strictObject({
		language: z.string(),
		review: z.string().meta({ description: "Who has read the catalogue as a whole" }),
		texts: z.array(
			z.strictObject({
				name: z.string(),
				text: z.string().nullable().meta({ description: "ICU MessageFormat; null: it goes out in the programme's language" }),
				reviewedBy: z
					.string()
					.nullable()
					.meta({ description: "The native speaker who has read it as it stands; null: nobody has" }),
				reviewedOn: z.string().nullable(),
			}),
		),
	})
	.meta({ id: "Texts" });

@Controller()
export class TextsController {
	@Endpoint({
		method: "GET",
		path: "/texts",
		access: "look",
		touches: ["nothing"],
		summary: "Tells every text of a language, and which of them a native speaker has read",
		answer: { description: "The texts by name", schema: answer },
	})
	textsOf(@Query({ schema: query }) { language }: z.output<typeof query>): z.output<typeof answer> {
		const catalogue = catalogues.find((one) => one.language === language) as Catalogue;
		const texts = Object.keys(TEXTS).map((name) => {
			const review = reviewOf(catalogue, name);
			return { name, text: catalogue.texts[name] ?? null, reviewedBy: review?.by ?? null, reviewedOn: review?.on ?? null };
		});
		return { language, review: catalogue.review, texts };
	}
}
