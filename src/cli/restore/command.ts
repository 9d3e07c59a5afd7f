import type { AddCommand, Outlets } from "../program.js";

const SENDS = ["--send-waiting", "let what waited to be sent go; it may have gone before already"] as const;

/** Puts a backup in the SQLite database's place. */
export const addRestore: AddCommand = (program, outlets) => {
	program
		.command("restore")
		.description(
			"Put a backup in the place of the SQLite database, with the service stopped. The backup is looked through first, the present database is kept aside, and what waited to be sent is withheld, because it may have gone since.",
		)
		.argument("<file>", "a backup that jarwatch backup made")
		.option(...SENDS, false)
		.option("--anchor <head...>", "heads of the ledger that were printed or mailed: the backup must agree with them")
		.action((file: string, options: { sendWaiting: boolean; anchor?: string[] }) => broughtBack(file, options, outlets));
};

/** What a backup that was brought back by the database's own tools still needs. */
export const addAfterRestore: AddCommand = (program, outlets) => {
	program
		.command("after-restore")
		.description(
			"After pg_restore, before the service starts: withhold what waited to be sent, because it may have gone since the backup was made.",
		)
		.option(...SENDS, false)
		.action((options: { sendWaiting: boolean }) => madeSafe(options, outlets));
};

async function broughtBack(
	file: string,
	{ sendWaiting, anchor = [] }: { sendWaiting: boolean; anchor?: string[] },
	{ out }: Outlets,
): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { headFrom } = await import("../../ledger/heads.js");
	const { from } = await import("../../ledger/origin.js");
	const { foundText } = await import("../backup/command.js");
	const { restored } = await import("./restored.js");
	const settings = settingsFrom(process.env);
	const { found, aside, withheld } = await from("command restore", () =>
		restored(settings, file, sendWaiting, anchor.map(headFrom), newLog("warn")),
	);
	out(`${file}: ${foundText(found)}\n`);
	out(
		aside ? `It is in place; the database that was there lies at ${aside}\n` : "It is in place; there was no database before.\n",
	);
	out(withheldText(withheld));
}

async function madeSafe({ sendWaiting }: { sendWaiting: boolean }, { out }: Outlets): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { from } = await import("../../ledger/origin.js");
	const { openedStore } = await import("../../opened-store.js");
	const { afterRestore } = await import("./restored.js");
	const store = await openedStore(settingsFrom(process.env), newLog("warn"));
	try {
		out(withheldText(await from("command after-restore", () => afterRestore(store, sendWaiting))));
	} finally {
		await store.close();
	}
}

function withheldText(withheld: number | undefined): string {
	if (withheld === undefined) return "What waited to be sent goes when the service starts.\n";
	if (withheld === 0) return "Nothing waited to be sent.\n";
	return `${withheld} messages that waited to be sent are withheld. See them with "jarwatch withheld"; let them go with --send-all, or end them with --drop-all.\n`;
}
