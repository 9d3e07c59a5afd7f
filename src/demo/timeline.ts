import { styleText } from "node:util";
import { localDateOf, localTimeOf } from "../time/local.js";
import { unmarked } from "./invented.js";

/** Something that happened, as plain values. */
export interface TimelineEvent {
	readonly atMs: number;
	readonly kind: "told" | "answered" | "changed" | "failed" | "escalated";
	/** Who was told or answered, or what changed. */
	readonly who: string;
	readonly text: string;
	readonly why?: string;
}

export interface TimelineStyle {
	/** IANA zone in which days begin and end. */
	readonly timeZone: string;
	/** False where the lines don't go to a terminal. */
	readonly colours: boolean;
	/** Columns of a line, 60 or more; 100 if left out. */
	readonly widthColumns?: number;
}

/** Stands once above a timeline; names in its lines bear no mark of their own. */
export const TIMELINE_NOTICE = "All people, places and figures below are invented.";

const KINDS = ["told", "answered", "changed", "failed", "escalated"] as const;
const COLOURS = { told: "cyan", answered: "green", changed: "blue", failed: "red", escalated: "magenta" } as const;
const TIME_COLUMNS = 7;
const KIND_COLUMNS = 11;
const WHO_COLUMNS = 14;
const INDENT = 2;
const TEXT_AT = INDENT + TIME_COLUMNS + KIND_COLUMNS + WHO_COLUMNS;

/**
 * Readable lines by local day: a heading that counts what happened, then a line an event with its reason below it.
 *
 * @param events in any order; those of one instant stay as they are given
 * @returns lines without line ends; none for no events
 */
export function timelineLines(events: readonly TimelineEvent[], style: TimelineStyle): string[] {
	const ordered = [...events].sort((a, b) => a.atMs - b.atMs);
	const days = new Map<string, TimelineEvent[]>();
	for (const event of ordered) {
		const date = localDateOf(event.atMs, style.timeZone);
		const day = days.get(date);
		if (day) day.push(event);
		else days.set(date, [event]);
	}
	return [...days.values()].flatMap((day, i) => [...(i > 0 ? [""] : []), ...dayLines(day, style)]);
}

function dayLines(day: readonly TimelineEvent[], style: TimelineStyle): string[] {
	const first = day[0] as TimelineEvent;
	const counts = KINDS.map((kind) => [kind, day.filter((event) => event.kind === kind).length] as const)
		.filter(([, count]) => count > 0)
		.map(([kind, count]) => `${count} ${kind}`);
	const heading = `${dayName(first.atMs, style.timeZone)}: ${counts.join(", ")}`;
	return [painted("bold", heading, style), ...day.flatMap((event) => eventLines(event, style))];
}

function dayName(atMs: number, timeZone: string): string {
	const parts = { weekday: "long", day: "numeric", month: "long", year: "numeric" } as const;
	return new Intl.DateTimeFormat("en-GB", { ...parts, timeZone }).format(atMs).replace(",", "");
}

function eventLines(event: TimelineEvent, style: TimelineStyle): string[] {
	const room = Math.max(60, style.widthColumns ?? 100) - TEXT_AT;
	const [first = "", ...rest] = wrapped(unmarked(event.text), room);
	const reason = event.why ? wrapped(`why: ${unmarked(event.why)}`, room) : [];
	const time = localTimeOf(event.atMs, style.timeZone).slice(-5).padEnd(TIME_COLUMNS);
	const kind = painted(COLOURS[event.kind], event.kind.padEnd(KIND_COLUMNS), style);
	const who = padded(unmarked(event.who), WHO_COLUMNS);
	return [
		`${" ".repeat(INDENT)}${time}${kind}${who}${first}`.trimEnd(),
		...rest.map((line) => " ".repeat(TEXT_AT) + line),
		...reason.map((line) => " ".repeat(TEXT_AT) + painted("dim", line, style)),
	];
}

/** A name that is too long is cut, so that the columns stay. */
function padded(text: string, columns: number): string {
	return (text.length < columns ? text : `${text.slice(0, columns - 2)}…`).padEnd(columns);
}

/** Breaks at spaces; a word that is longer than a line stays whole. */
function wrapped(text: string, columns: number): string[] {
	const lines: string[] = [];
	for (const word of text.split(/\s+/).filter((part) => part !== "")) {
		const last = lines[lines.length - 1];
		if (last !== undefined && last.length + 1 + word.length <= columns) lines[lines.length - 1] = `${last} ${word}`;
		else lines.push(word);
	}
	return lines;
}

function painted(colour: Parameters<typeof styleText>[0], text: string, style: TimelineStyle): string {
	// The caller knows where the lines go; what this process writes to doesn't matter.
	return style.colours ? styleText(colour, text, { validateStream: false }) : text;
}
