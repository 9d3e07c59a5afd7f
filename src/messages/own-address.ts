/** Whom a channel was to reach. */
interface Reached {
	readonly phoneE164: string | null;
	readonly email: string | null;
}

/** Digits at the end of a number that are the same however the country before them is written. */
const SAME_DIGITS = 8;

/**
 * Channels like to repeat in their answers whom they wrote to: that isn't kept.
 * @param text what a channel said
 * @returns it without the person's number, however it is spelt, and without her e-mail address
 */
export function withoutOwnAddress(text: string, { phoneE164, email }: Reached): string {
	const withoutEmail = email && text.includes("@") ? text.replaceAll(new RegExp(escaped(email), "giu"), "[address]") : text;
	if (!phoneE164 || !/\d/.test(withoutEmail)) return withoutEmail;
	const own = phoneE164.replace(/\D/g, "").slice(-SAME_DIGITS);
	return withoutEmail.replace(/\+?\(?\d(?:[\d .()/-]*\d)?/g, (run) => (run.replace(/\D/g, "").includes(own) ? "[number]" : run));
}

function escaped(text: string): string {
	return text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
}
