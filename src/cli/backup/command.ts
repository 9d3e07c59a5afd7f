import { headText } from "../../ledger/heads.js";
import type { AddCommand, Outlets } from "../program.js";
import type { LookedThrough } from "./looked-through.js";

/** Copies the SQLite database while the service goes on. */
export const addBackup: AddCommand = (program, outlets) => {
	program
		.command("backup")
		.description(
			"Copy the SQLite database into a new file while the service goes on, and look through the copy: its pages, its references, its ledger. The key under which names and numbers rest isn't in it.",
		)
		.argument("<file>", "where the backup shall lie; nothing is written over")
		.action((file: string) => made(file, outlets));
};

async function made(file: string, { out }: Outlets): Promise<void> {
	const { settingsFrom } = await import("../../settings/settings.js");
	const { backedUp, sqliteFileOf } = await import("./copied.js");
	const settings = settingsFrom(process.env);
	const database = sqliteFileOf(settings, "Back it up with pg_dump, as README.md says.");
	const found = await backedUp(database, file);
	const key = settings.dataKeys ? "JARWATCH_DATA_KEY" : "data.key in the data folder";
	out(
		`${file}: ${foundText(found)}\nThe key isn't in it (${key}): without it no name or number can be read. Keep a copy of it elsewhere.\n`,
	);
}

/** @returns what lies in a backup, in a few words */
export function foundText({ people, messages, entries, head }: LookedThrough): string {
	const rows = `whole, with ${people} people, ${messages} messages, ${entries} entries of the ledger`;
	return head && head.position > 0 ? `${rows} (head ${headText(head)})` : `${rows}, which has no head yet`;
}
