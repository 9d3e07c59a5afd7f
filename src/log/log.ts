import { type DestinationStream, type Logger, pino } from "pino";

export type Log = Pick<Logger, "debug" | "info" | "warn" | "error">;

/**
 * Structured lines without a phone number or a secret in them, whatever was handed in: keys that hold one are blanked,
 * and what looks like an international number, a key or a signing secret is masked in the finished line.
 * @param level of pino, or "silent"
 */
export function newLog(level: string, destination?: DestinationStream): Logger {
	return pino(
		{
			level,
			base: null,
			redact: {
				paths: [
					"phone",
					"phoneE164",
					"*.phoneE164",
					"fromAddress",
					"*.fromAddress",
					"authorization",
					"*.authorization",
					"secret",
					"apiKey",
					"*.cookie",
				],
				censor: "[left out]",
			},
			hooks: { streamWrite: withoutSecrets },
		},
		destination,
	);
}

/** @returns the text with phone numbers, keys and secrets masked; linear in its length */
export function withoutSecrets(text: string): string {
	return text
		.replace(/(?:\+|\b00)[1-9](?:[ .()-]{0,2}\d){6,14}\b/g, "[number]")
		.replace(/\bwhsec_[A-Za-z0-9+/=]+/g, "[secret]")
		.replace(/\b(Bearer|Basic) +[A-Za-z0-9._~+/=-]+/gi, "$1 [secret]")
		.replace(/\b(postgres(?:ql)?|rediss?):\/\/[^\s"@/]*@/g, "$1://[secret]@");
}
