import { z } from "zod";
import { code } from "../edge/fields.js";

export const localDate = z.iso.date().meta({ description: "Local date, YYYY-MM-DD" });
export const language = z
	.string()
	.regex(/^[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|\d{3}))?$/, "must be a language tag (BCP 47), such as en or bn-BD");
export const by = {
	byPersonCode: code.optional().meta({ description: "The supervisor who decides; without it, somebody at the office" }),
};
export const counts = z
	.strictObject({ households: z.int(), jars: z.int(), generators: z.int(), tasks: z.int() })
	.meta({ id: "HandedOver" });
