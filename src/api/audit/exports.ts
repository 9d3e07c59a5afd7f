import { Controller, Query, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { Exports, FORMATS, type FormatName } from "../../audit/exports/exports.js";
import { Endpoint } from "../edge/endpoint.js";
import { indicatorCode, where } from "./coverage-schemas.js";

const query = z.strictObject({ ...where, indicator: indicatorCode.optional().meta({ description: "Left out: all" }) });

const mediaType = (format: FormatName): string => FORMATS[format].mediaType.split(";")[0] as string;

@Controller()
export class ExportsController {
	constructor(private readonly exports: Exports) {}

	@Endpoint({
		method: "GET",
		path: "/coverage/figures.csv",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Writes the figures of coverage as CSV with HXL hashtags",
		answer: { description: "A line a figure and area (RFC 4180, HXL 1.1)", schema: z.string(), contentType: mediaType("csv") },
	})
	csv(@Query({ schema: query }) asked: z.output<typeof query>, @Res({ passthrough: true }) reply: FastifyReply) {
		return this.written("csv", asked, reply);
	}

	@Endpoint({
		method: "GET",
		path: "/coverage/figures.xlsx",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Writes the figures of coverage and their definitions as a workbook",
		answer: { description: "Office Open XML (ECMA-376)", schema: z.string(), contentType: mediaType("xlsx") },
	})
	xlsx(@Query({ schema: query }) asked: z.output<typeof query>, @Res({ passthrough: true }) reply: FastifyReply) {
		return this.written("xlsx", asked, reply);
	}

	@Endpoint({
		method: "GET",
		path: "/coverage/figures.geojson",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Writes the areas as points with their figures",
		description: "No household's place is in it.",
		answer: { description: "GeoJSON (RFC 7946)", schema: z.looseObject({}), contentType: mediaType("geojson") },
	})
	geojson(@Query({ schema: query }) asked: z.output<typeof query>, @Res({ passthrough: true }) reply: FastifyReply) {
		return this.written("geojson", asked, reply);
	}

	@Endpoint({
		method: "GET",
		path: "/coverage/figures.adx",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Writes the figures of coverage for aggregate data exchange",
		answer: { description: "ADX (IHE QRPH)", schema: z.string(), contentType: mediaType("adx") },
	})
	adx(@Query({ schema: query }) asked: z.output<typeof query>, @Res({ passthrough: true }) reply: FastifyReply) {
		return this.written("adx", asked, reply);
	}

	private async written(format: FormatName, asked: z.output<typeof query>, reply: FastifyReply): Promise<Buffer> {
		const { area, from, to, indicator } = asked;
		const indicators = indicator === undefined ? {} : { indicators: [indicator] };
		const bytes = await this.exports.figures(format, { areaCode: area, from, to, ...indicators });
		const name = `coverage-${from}-${to}.${format}`;
		void reply.headers({
			"content-type": FORMATS[format].mediaType,
			"content-disposition": `attachment; filename="${name}"`,
		});
		return bytes;
	}
}
