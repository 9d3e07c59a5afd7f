/** Signs by which a spreadsheet takes a text for a formula, as they are and in their wide forms. */
const BEGINS_A_FORMULA = /^[=+\-@\t\r\n\uFF1D\uFF0B\uFF0D\uFF20]/;
/** XML 1.0 and spreadsheets hold none of these. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
const CONTROLS = /[\u0000-\u0008\u000B\u000C\u000E-\u001F\uFFFE\uFFFF]/g;

/**
 * @returns the text as a spreadsheet shows it and never reckons it: one that would begin a formula bears an apostrophe before it
 * Source: OWASP, "CSV Injection"
 */
export function harmlessText(text: string): string {
	const clean = text.replace(/\p{Surrogate}/gu, "\uFFFD").replace(CONTROLS, "");
	return BEGINS_A_FORMULA.test(clean.trimStart()) || BEGINS_A_FORMULA.test(clean) ? `'${clean}` : clean;
}
