import { type CountryCode, parsePhoneNumberFromString } from "libphonenumber-js";

/**
 * A phone number as the networks write it (ITU-T E.164).
 * It must have a possible length for its country; whether the number range is in use isn't asked, because such lists age
 * and a real phone would be refused.
 * @param text as somebody wrote it, with spaces, brackets or hyphens
 * @param defaultCountry ISO 3166-1 code of the country of a number that is written without one
 * @returns "+" and up to 15 digits, or none where it isn't one number that can be dialled without an extension
 */
export function phoneE164Of(text: string, defaultCountry?: CountryCode): string | undefined {
	const phone = parsePhoneNumberFromString(text, { extract: false, ...(defaultCountry && { defaultCountry }) });
	return phone?.isPossible() && phone.ext === undefined ? phone.number : undefined;
}
