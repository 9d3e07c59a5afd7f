import { writeFile } from "node:fs/promises";
import { InputError } from "../../errors/errors.js";
import { textAs } from "../option-values.js";
import { type OptionTable, readOptions, type ValuesOf, withOptions } from "../options.js";
import type { AddCommand, Outlets } from "../program.js";

const path = textAs("the path of a file", (text) => text || undefined).optional();

const options = {
	area: {
		placeholder: "code",
		about: "an area; what is below it is told too",
		schema: textAs("the code of an area", (text) => text || undefined),
	},
	month: {
		placeholder: "month",
		about: "year and month, such as 2026-10; a month that isn't over is counted up to now",
		schema: textAs("a month such as 2026-10", (text) => (/^20\d\d-(0[1-9]|1[0-2])$/.test(text) ? text : undefined)),
	},
	html: { placeholder: "file", about: "where to write it as HTML", schema: path },
	pdf: { placeholder: "file", about: "where to write it as PDF; a Chromium prints it", schema: path },
} as const satisfies OptionTable;

/** Writes a month's report. */
export const addReport: AddCommand = (program, outlets) => {
	const command = program
		.command("report")
		.description("Write a month's report: figures with intervals, plots, a map, what is missing, cautions, definitions.");
	withOptions(command, options).action(() => reported(readOptions(options, command).values, outlets));
};

async function reported({ area, month, html, pdf }: ValuesOf<typeof options>, { out, err }: Outlets): Promise<void> {
	if (html === undefined && pdf === undefined)
		throw new InputError("invalid-input", "Say where to write the report: --html report.html, --pdf report.pdf, or both.");
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { reportHtml } = await import("../../audit/reports/html.js");
	const { MonthlyReports } = await import("../../audit/reports/monthly.js");
	const { browserPath, printedPdf } = await import("../../audit/reports/pdf.js");
	const settings = settingsFrom(process.env);
	const service = await preparedService(settings, { api: false, log: newLog("warn") });
	try {
		const report = await service.app.get(MonthlyReports).of({ areaCode: area, month });
		const text = reportHtml(report);
		const browser = browserPath(settings.chromium);
		const htmlPath = html ?? (browser === undefined ? `${pdf}.html` : undefined);
		if (htmlPath !== undefined) {
			await writeFile(htmlPath, text);
			out(`${htmlPath}\n`);
		}
		if (pdf === undefined) return;
		if (browser === undefined)
			return void err("No PDF was made: there is no Chromium here. The HTML says the same; set JARWATCH_CHROMIUM to print it.\n");
		await writeFile(pdf, await printedPdf(browser, text, report.madeAtMs));
		out(`${pdf}\n`);
	} finally {
		await service.stop();
	}
}
