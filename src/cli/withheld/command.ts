import { InputError } from "../../errors/errors.js";
import type { AddCommand, Outlets } from "../program.js";

interface Options {
	readonly send: readonly string[];
	readonly sendAll: boolean;
	readonly dropAll: boolean;
}

/** Tells what is withheld after a backup came back, and lets it go or ends it. */
export const addWithheld: AddCommand = (program, outlets) => {
	program
		.command("withheld")
		.description("List the messages that are withheld since a backup came back, a thousand at most, and let them go or end them.")
		.option("--send <id...>", "let these go", [])
		.option("--send-all", "let all of them go", false)
		.option("--drop-all", "end all of them unsent", false)
		.action((options: Options) => listed(options, outlets));
};

async function listed({ send, sendAll, dropAll }: Options, { out }: Outlets): Promise<void> {
	if (dropAll && (sendAll || send.length > 0))
		throw new InputError("invalid-input", "--drop-all ends what --send and --send-all let go: give one of them.");
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Withheld } = await import("../../duties/withheld.js");
	const { from } = await import("../../ledger/origin.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		const withheld = service.app.get(Withheld);
		await from("command withheld", async () => {
			for (const id of send) await withheld.release(id);
			const go = send.length + (sendAll ? await withheld.releaseAll() : 0);
			if (go > 0) out(`${go} go.\n`);
			if (dropAll) out(`${await withheld.dropAll()} ended unsent.\n`);
		});
		const left = await withheld.list();
		for (const { id, createdAtMs, recipientCode, text } of left)
			out(`${id}  ${new Date(createdAtMs).toISOString()}  ${recipientCode}  ${text}\n`);
		if (left.length === 0) out("Nothing is withheld.\n");
	} finally {
		await service.stop();
	}
}
