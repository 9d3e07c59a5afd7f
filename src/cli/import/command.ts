import { InputError } from "../../errors/errors.js";
import type { AddCommand, Outlets } from "../program.js";

/** Takes in a CSV file, whole or not at all. */
export const addImport: AddCommand = (program, outlets) => {
	program
		.command("import")
		.description(
			"Take in a CSV file of areas, people, households, containers, habits, generators or batches: whole or not at all.",
		)
		.argument("<kind>", "what the file holds")
		.argument("[file]", "the CSV file")
		.option("--columns", "list the columns of the kind and what each takes, and import nothing", false)
		.option("--country <code>", "ISO 3166-1 code of the country whose phone numbers are written without one")
		.option("--again", "take in content that was imported before, to put its values back", false)
		.action(async (kind: string, file: string | undefined, options: { columns: boolean; country?: string; again: boolean }) => {
			if (options.columns) return void outlets.out(await columnsOf(kind));
			if (!file)
				throw new InputError("invalid-input", "Name the file to import after its kind, or --columns to see what it should hold.");
			await imported(kind, file, options, outlets);
		});
};

async function columnsOf(kindName: string): Promise<string> {
	const { importKinds } = await import("../../imports.js");
	const kind = importKinds.find(({ name }) => name === kindName);
	if (!kind)
		throw new InputError(
			"invalid-input",
			`There is no kind of that name; there are ${importKinds.map(({ name }) => name).join(", ")}.`,
		);
	const columns = Object.entries(kind.columns);
	const widest = Math.max(...columns.map(([name]) => name.length));
	return columns.map(([name, column]) => `${name.padEnd(widest)}  ${column.schema.description ?? ""}\n`).join("");
}

async function imported(
	kind: string,
	file: string,
	options: { country?: string; again: boolean },
	{ out, err }: Outlets,
): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Importer } = await import("../../programme/import/importer.js");
	const { from } = await import("../../ledger/origin.js");
	const { reportText } = await import("../../programme/import/report.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		const { country, again } = options;
		const importer = service.app.get(Importer);
		const asked = { ...(country ? { defaultCountry: country } : {}), again };
		const report = await from("command import", () => importer.importFile(kind, file, asked));
		if (report.state === "refused") {
			err(`${reportText(report)}\n`);
			throw new InputError("import-refused", "Nothing was imported.");
		}
		out(`${reportText(report)}\n`);
	} finally {
		await service.stop();
	}
}
