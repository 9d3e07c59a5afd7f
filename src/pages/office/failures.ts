import { figureOf } from "../../audit/coverage/figure.js";
import { failedCounts } from "../../messages/failed-counts.js";
import { DAY_MS } from "../../time/clock.js";
import { channelSaid } from "../channels.js";
import { html } from "../html.js";
import { incidentList } from "../incidents/list.js";
import type { Shown, Visit } from "../page.js";
import { callerOf } from "../part.js";
import { table, tiles } from "../tables.js";
import { countCells } from "./figures.js";
import type { OfficeParts } from "./parts.js";
import { OFFICE_INCIDENTS } from "./places.js";

const DAYS = 30;
const MOST_AREAS = 200;

/** What went wrong, and messages that never arrived, by channel and by area. */
export async function failuresPage(parts: OfficeParts, visit: Visit): Promise<Shown> {
	const { words, nowMs } = visit;
	// Its first parameter is the instant.
	const parameters: unknown[] = [];
	const text = callerOf(visit)
		.reach.over("area", "a")
		.text((value) => `$${parameters.push(value) + 1}`);
	const counts = (await failedCounts(parts.store, nowMs - DAYS * DAY_MS, { text, parameters })).map((count) => ({
		...count,
		failed: Number(count.failed),
		sent: Number(count.sent),
	}));
	const failed = counts.reduce((sum, count) => sum + count.failed, 0);
	const main = html`${await incidentList(parts, visit, OFFICE_INCIDENTS)}<h2>${words("office.messages")}</h2><p>${words("office.failuresWhat", { days: DAYS })}</p>
${tiles([
	{ figure: words.number(failed), words: words("office.failed"), isBad: failed > 0 },
	{ figure: words.number(counts.reduce((sum, { sent }) => sum + sent, 0)), words: words("office.sent") },
])}
${counts.length === 0 && html`<p>${words("office.noMessages")}</p>`}
${(["channel", "areaCode"] as const).map(
	(by) =>
		counts.length > 0 &&
		table(
			words(by === "channel" ? "office.byChannel" : "office.byArea"),
			[
				words(by === "channel" ? "office.channel" : "map.areaName"),
				words("office.failedShare"),
				words("office.counted"),
				words("office.missing"),
			],
			summed(counts, by)
				.slice(0, MOST_AREAS)
				.map(({ name, ...of }) => {
					const figure = figureOf("reminders-failed", { numerator: of.failed, denominator: of.failed + of.sent, missing: 0 });
					return [
						name === null
							? words("office.noChannel")
							: by === "channel"
								? channelSaid(name, words)
								: html`<bdi class="code">${name}</bdi>`,
						...countCells(figure, words),
					];
				}),
		),
)}`;
	return { title: words("office.failures"), main, here: "/office/failures" };
}

interface Count {
	readonly channel: string | null;
	readonly areaCode: string;
	readonly failed: number;
	readonly sent: number;
}

/** @returns sums by channel or area, those first of which most failed */
function summed(counts: readonly Count[], by: "channel" | "areaCode"): { name: string | null; failed: number; sent: number }[] {
	const sums = new Map<string | null, { failed: number; sent: number }>();
	for (const count of counts) {
		const sum = sums.get(count[by]) ?? { failed: 0, sent: 0 };
		sums.set(count[by], { failed: sum.failed + count.failed, sent: sum.sent + count.sent });
	}
	return [...sums]
		.map(([name, sum]) => ({ name, ...sum }))
		.sort((a, b) => b.failed - a.failed || (String(a.name) < String(b.name) ? -1 : 1));
}
