import { writeFile } from "node:fs/promises";
import { calendarDate, oneOf, textAs } from "../option-values.js";
import { type OptionTable, readOptions, type ValuesOf, withOptions } from "../options.js";
import type { AddCommand } from "../program.js";

const options = {
	area: {
		placeholder: "code",
		about: "an area; what is below it is told too",
		schema: textAs("the code of an area", (text) => text || undefined),
	},
	from: { placeholder: "date", about: "first day, in the area's zone", schema: calendarDate },
	to: { placeholder: "date", about: "last day; a period that isn't over is counted up to now", schema: calendarDate },
	as: {
		placeholder: "format",
		about: "csv (with HXL hashtags), xlsx, geojson or adx",
		schema: oneOf(["csv", "xlsx", "geojson", "adx"] as const),
	},
	out: {
		placeholder: "file",
		about: "where to write it",
		schema: textAs("the path of a file", (text) => text || undefined),
	},
} as const satisfies OptionTable;

/** Writes the figures of coverage as a file for other programs. */
export const addExport: AddCommand = (program, outlets) => {
	const command = program
		.command("export")
		.description("Write the figures of coverage as a file: the same question gives the same bytes.");
	withOptions(command, options).action(async () => {
		const { values } = readOptions(options, command);
		const bytes = await exported(values);
		await writeFile(values.out, bytes);
		outlets.out(`${values.out}: ${bytes.length.toLocaleString("en")} bytes\n`);
	});
};

async function exported({ area, from, to, as }: ValuesOf<typeof options>): Promise<Buffer> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Exports } = await import("../../audit/exports/exports.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		return await service.app.get(Exports).figures(as, { areaCode: area, from, to });
	} finally {
		await service.stop();
	}
}
