import type { Ending } from "./load.js";
import type { Soaked } from "./soak.js";

/** What was seen, as a page. */
export function figuresOf({ ranSeconds, troubled, load, memory, outcome }: Soaked): string {
	const { capacityPerSecond, ratePerSecond } = load;
	const quiet = load.asked.filter(({ inTrouble }) => !inTrouble);
	const trouble = load.asked.filter(({ inTrouble }) => inTrouble);
	const rows: [string, string][] = [
		["it ran for", `${Math.round(ranSeconds)} s`],
		["most that it can do, asked by eight at once", `${capacityPerSecond.toFixed(0)} requests/s`],
		["load", `${ratePerSecond.toFixed(1)} requests/s (${((100 * ratePerSecond) / capacityPerSecond).toFixed(0)} %)`],
		["requests", `${load.asked.length}`],
		["of these not begun, because a thousand had no answer", `${load.leftOut}`],
		["troubles", `${troubled.length}`],
		["endings while nothing was wrong", endings(quiet)],
		["endings in trouble, and for as long again after it", endings(trouble)],
		["answer times while nothing was wrong, p50, p95", times(quiet)],
		["answer times in trouble, p50, p95", times(trouble)],
		["jars, tasks, messages", `${outcome.jars}, ${outcome.tasks}, ${outcome.messages}`],
		["reminders lost", `${outcome.lost.length + outcome.jarsWithoutTask + outcome.unsent}`],
		["tasks doubled, entries doubled", `${outcome.doubledTasks}, ${outcome.doubledEntries}`],
		["answers and jars that were taken and lost", `${outcome.answersLost.length + outcome.jarsLost.length}`],
		["reminders sent again under the same key, after an outcome that nobody knew", `${outcome.extraSends}`],
		["reminders sent again without cause", `${outcome.extraWithoutCause.length}`],
		["ledger", `${outcome.ledger.entries} entries, ${outcome.ledger.findings.length} findings`],
	];
	return [
		"| what | figure |",
		"| --- | --- |",
		...rows.map(([what, figure]) => `| ${what} | ${figure} |`),
		"",
		"| process that was never killed | memory after the first quarter | at the end | most | slope |",
		"| --- | --- | --- | --- | --- |",
		...memory.map(
			({ name, firstMb, lastMb, mostMb, slopeMbPerHour }) =>
				`| ${name} | ${firstMb.toFixed(0)} MB | ${lastMb.toFixed(0)} MB | ${mostMb.toFixed(0)} MB | ${slopeMbPerHour.toFixed(1)} MB/h |`,
		),
		"",
		`What went wrong: ${counted(troubled)}.`,
		"",
	].join("\n");
}

function endings(asked: readonly { readonly ending: Ending }[]): string {
	return counted(asked.map(({ ending }) => String(ending)));
}

function counted(words: readonly string[]): string {
	const counts = new Map<string, number>();
	for (const word of words) counts.set(word, (counts.get(word) ?? 0) + 1);
	return [...counts].map(([word, count]) => `${word}: ${count}`).join(", ") || "none";
}

function times(asked: readonly { readonly tookMs: number; readonly ending: Ending }[]): string {
	const sorted = asked
		.filter(({ ending }) => typeof ending === "number")
		.map(({ tookMs }) => tookMs)
		.sort((a, b) => a - b);
	const at = (share: number) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))];
	return sorted.length === 0 ? "none" : `${at(0.5)?.toFixed(1)} ms, ${at(0.95)?.toFixed(0)} ms`;
}
