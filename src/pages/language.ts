import type { FastifyRequest } from "fastify";
import { pageTexts } from "./texts.js";
import type { Visitor } from "./visitors.js";

const COOKIE = "jarwatch-language";

/**
 * The language of a page: as she chose on this phone, else her own as it stands on file, else the first that her browser asks for and
 * there are texts of, else English.
 */
export function languageOf(request: FastifyRequest, visitor: Visitor | undefined): string {
	const chosen = new RegExp(`(?:^|; *)${COOKIE}=([a-z]{2,3})(?:;|$)`).exec(request.headers.cookie ?? "")?.[1];
	const wanted = [chosen, visitor?.language, ...askedFor(request.headers["accept-language"] ?? "")];
	return wanted.find((tag) => tag !== undefined && hasTexts(tag)) ?? "en";
}

/** @returns tags in the order of their weights. Source: RFC 9110 (2022), sections 12.4.2 and 12.5.4 */
function askedFor(accepted: string): string[] {
	const asked = accepted
		.split(",")
		.slice(0, 20)
		.map((part) => {
			const [tag = "", weight = "q=1"] = part.split(";").map((one) => one.trim());
			return { tag, weight: Number(weight.replace(/^q=/i, "")) };
		});
	return asked
		.filter(({ weight }) => weight > 0)
		.sort((a, b) => b.weight - a.weight)
		.map(({ tag }) => tag);
}

/** @returns the header field that keeps a choice on this phone for a year */
export function choiceOf(language: string, isSecure: boolean): string {
	return `${COOKIE}=${language}; Path=/; Max-Age=31536000; SameSite=Lax; HttpOnly${isSecure ? "; Secure" : ""}`;
}

/** @returns whether there are texts of a language, with or without a region */
export function hasTexts(tag: string): boolean {
	return /^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$/.test(tag) && pageTexts.languages.includes(tag.split("-", 1)[0] as string);
}
