import type { Readable } from "node:stream";
import { Controller, Param, Query, Req } from "@nestjs/common";
import type { FastifyRequest } from "fastify";
import { z } from "zod";
import { Importer } from "../../programme/import/importer.js";
import type { ImportReport } from "../../programme/import/report.js";
import { Endpoint } from "../edge/endpoint.js";
import { yesOrNo } from "../edge/fields.js";
import { EdgeRefusal } from "../edge/problem.js";

const kindSchema = z.strictObject({ kind: z.string().min(1).max(40) });

const query = z.strictObject({
	defaultCountry: z
		.string()
		.regex(/^[A-Z]{2}$/, "must be two capital letters (ISO 3166-1)")
		.optional()
		.meta({ description: "Country of phone numbers that are written without one" }),
	again: yesOrNo.optional().meta({ description: "true: take a file in though the same content was imported before" }),
});

const imported = z
	.strictObject({
		kind: z.string(),
		state: z.enum(["imported", "already imported"]),
		rows: z.int(),
		added: z.int(),
		changed: z.int(),
		unchanged: z.int(),
	})
	.meta({ id: "ImportReport" });

@Controller()
export class ImportsController {
	constructor(private readonly importer: Importer) {}

	@Endpoint({
		method: "POST",
		path: "/imports/:kind",
		access: "administer",
		touches: ["whole"],
		summary: "Takes in a CSV file, whole or not at all",
		description:
			"A file that isn't right is refused with 422; the problem's `report` says what is wrong, line by line, and nothing is changed.",
		consumes: "text/csv",
		answer: { description: "Imported now, or before", schema: imported },
	})
	async importFile(
		@Param({ schema: kindSchema }) { kind }: z.output<typeof kindSchema>,
		@Query({ schema: query }) { defaultCountry, again }: z.output<typeof query>,
		@Req() request: FastifyRequest,
	): Promise<z.output<typeof imported>> {
		const options = { actor: "office", ...(defaultCountry && { defaultCountry }), ...(again && { again }) };
		return told(await this.importer.importFile(kind, request.body as Readable, options));
	}
}

function told({ state, problems, more, ...counts }: ImportReport): z.output<typeof imported> {
	if (state !== "refused") return { ...counts, state };
	const report = { ...counts, state, problems, more };
	throw new EdgeRefusal(
		422,
		"import-refused",
		"The file isn't right; nothing was changed. `report` says what to mend.",
		{},
		{ report },
	);
}
