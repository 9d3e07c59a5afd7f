import { escaped as e } from "../../charts/svg.js";
import { localDateOf } from "../../time/local.js";
import type { MonthlyReport } from "./monthly.js";
import { number, rowName, table, words } from "./table.js";
import { count } from "./words.js";

/** @returns what went wrong in the month: how often, what was done about it, and what has been open longest */
export function incidentsSection({ coverage: { period }, incidents: { kinds, longest } }: MonthlyReport): string {
	const none = kinds.every(({ opened, closed, open, lookedInto }) => opened + closed + open + lookedInto === 0);
	const heading = "<h2>What went wrong</h2>";
	if (none)
		return `<section>${heading}<p>No incident was opened or stood open. That may also mean that little was told.</p></section>`;
	const rows = kinds.map(
		({ kind, words: what, opened, closed, open, lookedInto }) =>
			`${rowName(sentence(kind))}${[opened, closed, open, lookedInto].map((n) => number(count(n))).join("")}${words(what)}`,
	);
	const counts = table(["", "opened", "closed", "left, not looked into", "left, looked into", "what that is"], rows, "text");
	const unfit = kinds.find(({ kind }) => kind === "unfit water given out");
	const first = unfit && unfit.open > 0 ? `<p class="partial">${unfitFirst(unfit.open)}</p>` : "";
	return `<section>${heading}${first}${counts}${openLongest(longest, period.timeZone)}
<p>An incident opens by itself from what is on record, and says that something has to be looked into, not who is to blame. What nobody told isn't among them.</p></section>`;
}

function openLongest(longest: MonthlyReport["incidents"]["longest"], timeZone: string): string {
	if (longest.length === 0) return "<p>None was open when the month ended, or until now.</p>";
	const rows = longest.map(
		({ kind, about, areaCode, openedAtMs, days, state }) =>
			`${rowName(sentence(kind))}${words(about)}${words(areaCode)}${words(localDateOf(openedAtMs, timeZone))}${number(count(days))}${words(state)}`,
	);
	return `<h3>${e("Open longest")}</h3>${table(["", "about", "area", "opened", "days", "state"], rows, "text listed")}`;
}

const sentence = (kind: string): string => kind.slice(0, 1).toUpperCase() + kind.slice(1);

function unfitFirst(open: number): string {
	const [incidents, there] = open === 1 ? ["incident of unfit water was", "it"] : ["incidents of unfit water were", "them"];
	return `${count(open)} ${incidents} open and not looked into: see to ${there} first, as the local protocol has it.`;
}
