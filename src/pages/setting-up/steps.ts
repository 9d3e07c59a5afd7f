import { Readable } from "node:stream";
import { UPLOAD_LIMIT_BYTES } from "../../api/edge/bodies.js";
import { loadPlanned } from "../../demo/demo.js";
import { district } from "../../demo/district.js";
import type { ImportReport } from "../../programme/import/report.js";
import { channelName } from "../channels.js";
import { html } from "../html.js";
import { hiddenToken } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { callerOf } from "../part.js";
import { orRefused, type Refused, refusal, told } from "../refused.js";
import { toldAgain } from "../said.js";
import { choices, table } from "../tables.js";
import type { Visitor } from "../visitors.js";
import type { Words } from "../words.js";
import type { SettingUpParts } from "./parts.js";

type Anybody = Visit<Visitor | undefined>;

interface Outcome {
	readonly refused?: Refused;
	readonly report?: ImportReport;
	readonly told?: string;
}

/** What is on file, and the ways to bring it in and to try the channels. */
export async function stepsPage(
	parts: SettingUpParts,
	visit: Anybody,
	{ refused, report, told: said }: Outcome = {},
): Promise<Shown> {
	const { words, request, form, query } = visit;
	const token = hiddenToken(request.formToken);
	const counts = await countsOf(parts);
	const isEmpty = counts.every(({ number }) => number === 0);
	const main = html`${refusal(refused, words)}${told(said ?? (query.has("demo") ? words("setUp.demoLoaded") : undefined))}${report && reported(report, visit)}
<section><h2>${words("setUp.onFile")}</h2>${table(
		words("setUp.onFileTable"),
		[words("office.figure"), words("setUp.number")],
		counts.map(({ what, number }) => [words("setUp.what", { what }), words.number(number)]),
	)}</section>
${
	isEmpty &&
	html`<section><h2>${words("setUp.demo")}</h2><p>${words("setUp.demoWhat")}</p><form method="post" action="/setting-up/demo">${token}<button class="quiet">${words("setUp.loadDemo")}</button></form></section>`
}
<section><h2>${words("setUp.import")}</h2><p>${words("setUp.importWhat", { megabytes: words.number(UPLOAD_LIMIT_BYTES / 1024 / 1024) })}</p>
<form method="post" action="/setting-up/import" enctype="multipart/form-data">${token}
${choices(
	"kind",
	"kind",
	words("setUp.kind"),
	parts.kinds.map((kind) => ({ value: kind, words: kindName(kind, words) })),
	form.get("kind"),
)}
<p class="field"><label for="country">${words("setUp.country")}</label><input type="text" id="country" name="country" dir="ltr" maxlength="2" autocomplete="off" value="${form.get("country") ?? ""}"></p>
<p class="field"><label for="file">${words("setUp.file")}</label><input type="file" id="file" name="file" accept=".csv,text/csv" required></p>
<button>${words("setUp.doImport")}</button></form></section>
<section><h2>${words("setUp.channels")}</h2>
${
	parts.channels.names.length === 0
		? html`<p>${words("setUp.noChannels")}</p>`
		: html`<p>${words("setUp.channelsWhat")}</p><form class="filters" method="post" action="/setting-up/channel">${token}
${choices(
	"channel",
	"channel",
	words("office.channel"),
	parts.channels.names.map((name) => ({
		value: name,
		words: words("lead.named", { name: channelName(name, words), code: name }),
	})),
	form.get("channel"),
)}
<p class="field"><label for="to">${words("setUp.to")}</label><input type="text" id="to" name="to" dir="ltr" maxlength="100" required value="${form.get("to") ?? ""}"></p>
<button>${words("setUp.send")}</button></form>`
}</section>`;
	const status = refused?.status ?? (report?.state === "refused" ? 422 : undefined);
	return { title: words("setUp.title"), main, isForStaff: true, ...(status && { status }) };
}

/** Takes a CSV file in, whole or not at all. */
export async function importFile(parts: SettingUpParts, visit: Anybody): Promise<Answer> {
	const { form, file, words } = visit;
	if (!file) return stepsPage(parts, visit, { refused: { why: words("setUp.noFile"), status: 422 } });
	const country = (form.get("country") ?? "").trim().toUpperCase();
	if (country !== "" && !/^[A-Z]{2}$/.test(country))
		return stepsPage(parts, visit, { refused: { why: words("setUp.wrongCountry"), status: 422 } });
	const asked = { actor: callerOf(visit).actor, ...(country && { defaultCountry: country }) };
	const result = await orRefused(() => parts.importer.importFile(form.get("kind") ?? "", Readable.from([file]), asked));
	return "refused" in result
		? stepsPage(parts, visit, { refused: result.refused })
		: stepsPage(parts, visit, { report: result.done });
}

/** Loads the invented district, where nothing is on file. */
export async function loadDemo(parts: SettingUpParts, visit: Anybody): Promise<Answer> {
	const { nowMs } = visit;
	const result = await orRefused(() =>
		loadPlanned(parts.store, parts.calendars, district({ start: 1, startAtMs: nowMs }), nowMs),
	);
	return "refused" in result ? stepsPage(parts, visit, { refused: result.refused }) : { seeOther: "/setting-up?demo=1" };
}

/** Sends a test message by a channel, and tells its answer. */
export async function tryChannel(parts: SettingUpParts, visit: Anybody): Promise<Answer> {
	const { form, words } = visit;
	const [channel, to] = [form.get("channel") ?? "", (form.get("to") ?? "").trim()];
	const result = await orRefused(() => parts.channels.send(channel, to, words("setUp.testText"), words("setUp.to")));
	if ("refused" in result) return stepsPage(parts, visit, { refused: result.refused });
	const { delivery, tookMs } = result.done;
	const seconds = words.number(tookMs / 1000, 1);
	if (delivery.kind === "refused")
		return stepsPage(parts, visit, {
			refused: { why: words("setUp.refusedBy", { channel, seconds, reason: delivery.reason }), status: 422 },
		});
	return stepsPage(parts, visit, { told: words("setUp.takenBy", { channel, seconds, answer: delivery.answer }) });
}

function reported({ kind, state, rows, added, changed, unchanged, problems, more }: ImportReport, { words }: Anybody) {
	if (state !== "refused")
		return html`<p class="told" role="status">${words("setUp.imported", { state: state === "imported" ? "now" : "before", kind: kindName(kind, words), rows, added, changed, unchanged })}</p>`;
	return html`<div class="stop" role="alert"><p><strong>${words("setUp.importRefused", { count: problems.length + more })}</strong></p></div>${table(
		words("setUp.problems"),
		[words("setUp.line"), words("setUp.column"), words("setUp.value"), words("setUp.mend")],
		problems.map(({ line, column, value, message }) => [
			words.number(line),
			html`<bdi class="code">${column}</bdi>`,
			html`<bdi>${value}</bdi>`,
			toldAgain(message, words),
		]),
	)}${more > 0 && html`<p>${words("lead.more", { count: more })}</p>`}`;
}

function kindName(kind: string, words: Words): string {
	return words("setUp.isKind", { kind: kind.replaceAll("-", "") });
}

const COUNTED = ["area", "person", "household", "container", "generator", "batch"] as const;

function countsOf({ store }: SettingUpParts): Promise<{ what: string; number: number }[]> {
	return Promise.all(
		COUNTED.map(async (what) => {
			const [row] = await store.query<{ number: number }>(`SELECT COUNT(*) AS number FROM ${what}`);
			return { what, number: Number(row?.number ?? 0) };
		}),
	);
}
