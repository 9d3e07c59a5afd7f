import { z } from "zod";
import { code } from "../edge/fields.js";

export const localDate = z.iso.date().meta({ description: "Local date, YYYY-MM-DD" });
export const wallTime = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of day, 00:00 to 23:59");
export const language = z
	.string()
	.regex(/^[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|\d{3}))?$/, "must be a language tag (BCP 47), such as en or bn-BD");
export const by = {
	byPersonCode: code.optional().meta({ description: "The supervisor who decides; without it, somebody at the office" }),
};
export const counts = z.strictObject({ households: z.int(), jars: z.int(), tasks: z.int() }).meta({ id: "HandedOver" });
