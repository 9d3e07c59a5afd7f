import { InputError, type Problem } from "../../errors/errors.js";
import { textAt, valueAt } from "../channels/pointer.js";

/** One thing that a gateway posted: a receipt, a text. */
export interface Posted {
	/** Where it stands in the body: "" or "/results/3". */
	readonly at: string;
	readonly value: unknown;
}

const MOST_ITEMS = 1000;

/**
 * Reads a gateway's body.
 * @param list where the list is; none: the body is one thing
 * @returns the things in it, in their order
 * @throws InputError `invalid-input` where the body can't be read or the list isn't there
 */
export function postedIn(bytes: Buffer, kind: "json" | "form", list: string | undefined): Posted[] {
	const body = read(bytes, kind);
	if (list === undefined) return [{ at: "", value: body }];
	const items = valueAt(body, list);
	if (!Array.isArray(items)) throw refused([{ at: list, message: "must be a list" }]);
	if (items.length > MOST_ITEMS) throw refused([{ at: list, message: `must hold at most ${MOST_ITEMS} things` }]);
	return items.map((value, i) => ({ at: `${list}/${i}`, value }));
}

function read(bytes: Buffer, kind: "json" | "form"): unknown {
	try {
		const text = new TextDecoder("utf-8", { fatal: true }).decode(bytes);
		return kind === "form" ? Object.fromEntries(new URLSearchParams(text)) : JSON.parse(text);
	} catch {
		throw refused([{ at: "", message: kind === "form" ? "must be a form in UTF-8" : "must be JSON (RFC 8259) in UTF-8" }]);
	}
}

/** Reads the fields of one thing, and keeps what is wrong with them. */
export class Fields {
	constructor(
		private readonly posted: Posted,
		private readonly problems: Problem[],
	) {}

	/** @returns a text of at least one character and so many at most; "" where it isn't there, and the problem is kept */
	needed(pointer: string, longest: number): string {
		const text = this.optional(pointer, longest) ?? "";
		if (text === "" && !this.problems.some(({ at }) => at === this.posted.at + pointer)) this.refuse(pointer, "must be there");
		return text;
	}

	optional(pointer: string | undefined, longest: number): string | undefined {
		const text = pointer === undefined ? undefined : textAt(this.posted.value, pointer);
		if (text === undefined) return undefined;
		if (Buffer.byteLength(text) > longest) this.refuse(pointer as string, `must be at most ${longest} bytes in UTF-8`);
		// PostgreSQL can't keep NUL, and half of a surrogate pair changes on its way into UTF-8.
		if (text.includes("\0") || /\p{Surrogate}/u.test(text))
			this.refuse(pointer as string, "holds a NUL character or half of a surrogate pair");
		return text;
	}

	/**
	 * @returns epoch milliseconds, never later than now; now where the gateway tells no time.
	 * Eleven digits and fewer are seconds: as milliseconds they would be of before 1974.
	 */
	instant(pointer: string | undefined, nowMs: number): number {
		const text = this.optional(pointer, 40);
		if (text === undefined) return nowMs;
		const atMs = /^\d{1,11}(\.\d+)?$/.test(text)
			? Number(text) * 1000
			: /^\d{12,14}$/.test(text)
				? Number(text)
				: /^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)$/.test(text)
					? Date.parse(text.replace(" ", "T").replace(/([+-]\d\d)(\d\d)$/, "$1:$2"))
					: Number.NaN;
		if (Number.isNaN(atMs))
			this.refuse(pointer as string, "must be ISO 8601 with an offset or Z, or seconds or milliseconds since 1970");
		return Math.min(Math.round(atMs), nowMs);
	}

	private refuse(pointer: string, message: string): void {
		this.problems.push({ at: this.posted.at + pointer, message });
	}
}

/** @throws InputError where there are problems: all of them, and nothing of the post is taken */
export function assertNone(problems: readonly Problem[]): void {
	if (problems.length > 0) throw refused(problems.slice(0, 100));
}

function refused(problems: readonly Problem[]): InputError {
	const shown = problems.slice(0, 3).map(({ at, message }) => `${at || "the body"} ${message}`);
	return new InputError("invalid-input", `Nothing of this was taken: ${shown.join("; ")}.`, { problems });
}
