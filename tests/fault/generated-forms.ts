import type { KnownRoute } from "../../src/api/edge/routes.js";
import type { Randomness } from "../../src/time/randomness.js";
import type { Asked } from "../api/served.js";
import { ODD_TEXTS } from "./generated-requests.js";
import type { RequestCaller } from "./request-callers.js";
import { Spoiler } from "./spoiler.js";

export interface Visited {
	readonly method: "GET" | "POST";
	readonly url: string;
	readonly asked: Asked;
	/** What was done to it. */
	readonly how: readonly string[];
}

interface PageForm {
	readonly action: string;
	readonly isPost: boolean;
	readonly takesFile: boolean;
	/** Each with the values that it may be given; none where anything may be written. */
	readonly fields: readonly (readonly [name: string, values: readonly string[]])[];
}

/** So many addresses and forms of one person are remembered, the latest. */
const REMEMBERED = 60;
const LANGUAGES = ["en", "fr", "sw", "pt", "es", "ar", "x", ""];
const WORDS = ["2", "0", "12.5", "an invented reason", "2026-03-02", "08:30", "sms", "+447700900002", "near", "MINE-H"];
/** A form whose field is a file. */
const BOUNDARY = "invented-boundary";

/** Goes about the pages as somebody would who follows their links and fills in their forms, and spoils what she sends. */
export class GeneratedForms extends Spoiler {
	private readonly addresses = new Map<string, string[]>();
	private readonly forms = new Map<string, PageForm[]>();
	/** Where a page is. */
	private readonly patterns: readonly string[];

	constructor(routes: readonly KnownRoute[], chance: Randomness) {
		super(chance);
		const pages = routes.filter(
			({ access, method, pattern }) => access === "page" && method === "GET" && !/\.\w+$/.test(pattern),
		);
		this.patterns = pages.map(({ pattern }) => pattern);
	}

	next(caller: RequestCaller): Visited {
		const forms = this.forms.get(caller.name) ?? [];
		return forms.length > 0 && this.is(0.5) ? this.filledIn(this.pick(forms), caller) : this.address(caller);
	}

	/** Remembers where a page that was shown leads to. */
	saw(caller: RequestCaller, markup: string): void {
		const links = [...markup.matchAll(/\shref="(\/[^"#]*)"/g)].map(([, to = ""]) => plain(to)).filter((to) => !/\.\w+$/.test(to));
		this.addresses.set(caller.name, latest([...(this.addresses.get(caller.name) ?? []), ...links]));
		const known = this.forms.get(caller.name) ?? [];
		const seen = formsIn(markup);
		const isSeen = ({ action }: PageForm) => seen.some((form) => form.action === action);
		this.forms.set(caller.name, latest([...known.filter((form) => !isSeen(form)), ...seen]));
	}

	private address(caller: RequestCaller): Visited {
		const how: string[] = [];
		const known = this.addresses.get(caller.name) ?? [];
		let url = known.length > 0 && this.is(0.5) ? this.pick(known) : this.named(this.pick(this.patterns), caller);
		if (this.is(0.15)) {
			const name = this.pick(["from", "to", "area", "of", "after", "state", "household", "x", "__proto__"]);
			url += `${url.includes("?") ? "&" : "?"}${new URLSearchParams([[name, this.odd(how, `odd ${name}`)]])}`;
		}
		return { method: "GET", url, asked: { headers: this.headers(caller) }, how };
	}

	private named(pattern: string, { names }: RequestCaller): string {
		return pattern.replace(/:\w+/g, () => {
			const text = this.is(0.8) ? this.pick(Object.values(names)) : Buffer.from(this.pick(ODD_TEXTS).slice(0, 200)).toString();
			return /^\.{0,2}$/.test(text) ? "x" : encodeURIComponent(text);
		});
	}

	private filledIn({ action, isPost, takesFile, fields }: PageForm, caller: RequestCaller): Visited {
		const how: string[] = [];
		const form = new URLSearchParams();
		for (const [name, values] of fields) {
			if (name === "token") continue;
			if (this.is(0.06)) how.push(`without ${name}`);
			else form.append(name, this.is(0.15) ? this.odd(how, `odd ${name}`) : this.pick(values.length > 0 ? values : WORDS));
			if (this.is(0.03)) form.append(name, this.odd(how, `twice ${name}`));
		}
		if (this.is(0.03)) form.append(this.pick(["id", "__proto__", "", "\0", "personId"]), this.odd(how, "unknown field"));
		if (!isPost) return { method: "GET", url: `${action}?${form}`, asked: { headers: this.headers(caller) }, how };
		const isOwn = this.is(0.95);
		form.append("token", isOwn ? caller.formToken : this.odd(how, "another token"));
		const headers = this.headers(caller);
		headers["content-type"] = "application/x-www-form-urlencoded";
		if (takesFile) {
			headers["content-type"] = `multipart/form-data; boundary=${BOUNDARY}`;
			if (isOwn) headers["x-form-token"] = caller.formToken;
			return { method: "POST", url: action, asked: { raw: this.withFile(form, how), headers }, how };
		}
		if (this.is(0.03))
			headers["content-type"] = this.said(how, "other media type", this.pick(["text/plain", "multipart/form-data; boundary=x"]));
		let text = form.toString();
		if (this.is(0.02)) text = this.cutOff(how, text);
		if (this.is(0.02)) text = this.said(how, "bad escapes", text.replace(/=/g, "=%E0%A4%A%"));
		if (this.is(0.01)) text = this.said(how, "long", `${text}&x=${"x".repeat(300_000)}`);
		return { method: "POST", url: action, asked: { raw: text, headers }, how };
	}

	private withFile(form: URLSearchParams, how: string[]): string {
		const parts = [...form].map(
			([name, value]) => `content-disposition: form-data; name="${name.replace(/[^ -~]/g, "")}"\r\n\r\n${value}`,
		);
		const file = this.said(how, "a file", [this.pick(ODD_TEXTS), "code,name", "A1,x", this.pick(ODD_TEXTS)].join("\n"));
		parts.push(`content-disposition: form-data; name="file"; filename="a.csv"\r\ncontent-type: text/csv\r\n\r\n${file}`);
		const whole = `${parts.map((part) => `--${BOUNDARY}\r\n${part}\r\n`).join("")}--${BOUNDARY}--\r\n`;
		return this.is(0.1) ? this.cutOff(how, whole) : whole;
	}

	private headers(caller: RequestCaller): Record<string, string> {
		const wantsJson: Record<string, string> = this.is(0.1) ? { accept: "application/json" } : {};
		return { ...caller.headers, "accept-language": this.pick(LANGUAGES), ...wantsJson };
	}

	private odd(how: string[], what: string): string {
		return this.said(how, what, this.pick(ODD_TEXTS));
	}
}

/** @returns the forms of a page with what each field may be given, as far as its markup says */
function formsIn(markup: string): PageForm[] {
	return [...markup.matchAll(/<form\b([^>]*)>([\s\S]*?)<\/form>/g)].map(([, head = "", inner = ""]) => {
		const fields = new Map<string, string[]>();
		const may = (name: string | undefined, value?: string) => {
			if (name === undefined || name === "") return;
			fields.set(name, [...(fields.get(name) ?? []), ...(value ? [value] : [])]);
		};
		for (const [, tag = ""] of inner.matchAll(/<(?:input|button)\b([^>]*)>/g))
			if (attribute(tag, "type") !== "file") may(attribute(tag, "name"), attribute(tag, "value"));
		for (const [, tag = ""] of inner.matchAll(/<textarea\b([^>]*)>/g)) may(attribute(tag, "name"));
		for (const [, tag = "", options = ""] of inner.matchAll(/<select\b([^>]*)>([\s\S]*?)<\/select>/g)) {
			may(attribute(tag, "name"));
			for (const [, option = ""] of options.matchAll(/<option\b([^>]*)>/g))
				may(attribute(tag, "name"), attribute(option, "value"));
		}
		return {
			action: attribute(head, "action") ?? "/",
			isPost: attribute(head, "method") === "post",
			takesFile: attribute(head, "enctype") === "multipart/form-data",
			fields: [...fields].map(([name, values]) => [name, values.slice(-50)] as const),
		};
	});
}

function attribute(tag: string, name: string): string | undefined {
	const value = new RegExp(`\\s${name}="([^"]*)"`).exec(tag)?.[1];
	return value === undefined ? undefined : plain(value);
}

const ENTITIES: Readonly<Record<string, string>> = { amp: "&", lt: "<", gt: ">", quot: '"', "#39": "'" };

const plain = (text: string): string => text.replace(/&(amp|lt|gt|quot|#39);/g, (_, name: string) => ENTITIES[name] as string);

const latest = <T>(all: readonly T[]): T[] => [...new Set(all)].slice(-REMEMBERED);
