import { segmentsOf } from "./segments.js";
import { lineNameOf } from "./text-names.js";
import { type Fill, type Rendered, textOf } from "./texts.js";

/** A message that may be told of together with others. */
export interface Member {
	readonly taskId: string | null;
	/** Name of its own text, by which it goes where it is alone. */
	readonly text: string;
	readonly fill: Fill;
}

/** Work for the person herself, or what is late in others' hands. */
export type DigestText = "digest.work" | "digest.late";

/** @returns under which heading a message is told of together with others */
export function digestTextFor({ text }: Pick<Member, "text">): DigestText {
	return text.endsWith(".supervisor") ? "digest.late" : "digest.work";
}

export function isDigest(text: string): text is DigestText {
	return text === "digest.work" || text === "digest.late";
}

/**
 * One text that tells of several tasks in a short line each; of one alone in its own words.
 * @param members in the order in which they are told; at least one. Where several tell of one task, the last one does.
 * @param language of the reader, and the programme's for what hers lacks
 */
export function digestOf(heading: DigestText, members: readonly Member[], language: string, fallbackLanguage: string): Rendered {
	const tasks = lastOfEachTask(members);
	const [first] = tasks;
	if (first && tasks.length === 1) return textOf(first.text, first.fill, language, fallbackLanguage);
	const line = ({ text, fill }: Member) => textOf(lineNameOf(text), fill, language, fallbackLanguage).text;
	const late = (member: Member) =>
		textOf("digest.late.line", { ...member.fill, line: line(member) }, language, fallbackLanguage).text;
	const lines = tasks.map(heading === "digest.late" ? late : line).join("; ");
	return textOf(heading, { count: tasks.length, lines }, language, fallbackLanguage);
}

/** @returns the last message of each task */
export function lastOfEachTask<M extends Member>(members: readonly M[]): M[] {
	const last = new Map<unknown, M>();
	for (const member of members) {
		const about = member.taskId ?? member;
		last.delete(about);
		last.set(about, member);
	}
	return [...last.values()];
}

/**
 * As many messages from the beginning as one text can tell of.
 * @param mostSegments of SMS that the text may have; a message alone may be longer
 * @returns at least one, with the segments of the text that tells of them
 */
export function firstPack<M extends Member>(
	heading: DigestText,
	members: readonly M[],
	mostSegments: number,
	language: string,
	fallbackLanguage: string,
): { readonly pack: readonly M[]; readonly segments: number } {
	const cost = (count: number) =>
		segmentsOf(digestOf(heading, members.slice(0, count), language, fallbackLanguage).text).segments;
	let fits = 1;
	let segments = cost(1);
	for (let count = 2; count <= members.length; count++) {
		const more = cost(count);
		if (more > mostSegments) break;
		[fits, segments] = [count, more];
	}
	return { pack: members.slice(0, fits), segments };
}
