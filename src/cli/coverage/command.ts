import { calendarDate, switchedOn, textAs } from "../option-values.js";
import { type OptionTable, readOptions, type ValuesOf, withOptions } from "../options.js";
import type { AddCommand } from "../program.js";
import { coverageText } from "./text.js";

const options = {
	area: {
		placeholder: "code",
		about: "an area; what is below it is counted too",
		schema: textAs("the code of an area", (text) => text || undefined),
	},
	from: { placeholder: "date", about: "first day, in the area's zone", schema: calendarDate },
	to: { placeholder: "date", about: "last day; a period that isn't over is counted up to now", schema: calendarDate },
	words: { about: "tell what each figure means, what is missing and where the definition comes from", schema: switchedOn },
} as const satisfies OptionTable;

/** Counts what is done of all that should be, in an area and a period. */
export const addCoverage: AddCommand = (program, outlets) => {
	const command = program
		.command("coverage")
		.description("Count coverage in an area and a period: each figure with what is missing and its 95 % interval.");
	withOptions(command, options).action(async () => {
		outlets.out(await coverageOf(readOptions(options, command).values));
	});
};

async function coverageOf({ area, from, to, words }: ValuesOf<typeof options>): Promise<string> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Coverage } = await import("../../audit/coverage/coverage.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		return coverageText(await service.app.get(Coverage).report({ areaCode: area, from, to }), words);
	} finally {
		await service.stop();
	}
}
