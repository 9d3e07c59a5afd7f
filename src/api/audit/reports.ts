import { createHash } from "node:crypto";
import { Controller, Query, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { reportHtml } from "../../audit/reports/html.js";
import { MonthlyReports } from "../../audit/reports/monthly.js";
import { browserPath, printedPdf } from "../../audit/reports/pdf.js";
import { STYLE } from "../../audit/reports/style.js";
import { InputError } from "../../errors/errors.js";
import { Endpoint } from "../edge/endpoint.js";
import { code } from "../edge/fields.js";

const query = z.strictObject({
	area: code.meta({ description: "Code of an area: what is below it is told too" }),
	month: z
		.string()
		.max(10)
		.meta({ description: "Year and month, such as 2026-10; a month that isn't over is counted up to now" }),
});

/** The page brings its own style and nothing else. */
const POLICY = `default-src 'none'; style-src 'sha256-${createHash("sha256").update(STYLE).digest("base64")}'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'`;

/** The browser that prints, as the settings name it. */
export class PrintSetting {
	constructor(readonly browser: string | undefined) {}
}

@Controller()
export class ReportsController {
	constructor(
		private readonly reports: MonthlyReports,
		private readonly print: PrintSetting,
	) {}

	@Endpoint({
		method: "GET",
		path: "/reports/monthly.html",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Writes a month's report: figures with intervals, plots, map, what is missing, cautions, definitions",
		answer: { description: "One document that needs nothing beside itself", schema: z.string(), contentType: "text/html" },
	})
	async html(
		@Query({ schema: query }) asked: z.output<typeof query>,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<string> {
		const report = await this.reports.of({ areaCode: asked.area, month: asked.month });
		void reply.headers({ "content-type": "text/html; charset=utf-8", "content-security-policy": POLICY });
		return reportHtml(report);
	}

	@Endpoint({
		method: "GET",
		path: "/reports/monthly.pdf",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Prints the same report",
		description: "Where the service has a Chromium to print with; else 409, and the report is there as HTML.",
		answer: { description: "PDF", schema: z.string(), contentType: "application/pdf" },
	})
	async pdf(
		@Query({ schema: query }) asked: z.output<typeof query>,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<Buffer> {
		const browser = browserPath(this.print.browser);
		if (browser === undefined)
			throw new InputError(
				"no-browser",
				"There is no Chromium here to print with. Ask for /reports/monthly.html, or set JARWATCH_CHROMIUM to the path of one.",
				{ status: 409 },
			);
		const report = await this.reports.of({ areaCode: asked.area, month: asked.month });
		const bytes = await printedPdf(browser, reportHtml(report), report.madeAtMs);
		void reply.header("content-type", "application/pdf");
		return bytes;
	}
}
