import { InputError } from "../../errors/errors.js";
import type { AddCommand, Outlets } from "../program.js";

/** What a person may ask of the programme: a copy of what is held about her, and that it be erased. */
export const addPerson: AddCommand = (program, outlets) => {
	const person = program
		.command("person")
		.description("What a person may ask for: a copy of what is held about her, or that it be erased.");
	person
		.command("own-data")
		.description("Print everything that is held about a person, as JSON; names and numbers in full.")
		.argument("<code>", "the person's code")
		.action((code: string) => copied(code, outlets));
	person
		.command("erase")
		.description("Erase what is held about a person. Codes and figures stay. It can't be undone.")
		.argument("<code>", "the person's code")
		.requiredOption("--sure <code>", "the code once more")
		.action((code: string, { sure }: { sure: string }) => erased(code, sure, outlets));
};

async function copied(code: string, { out }: Outlets): Promise<void> {
	const { OwnData } = await import("../../personal/own-data.js");
	await withServices(async (the) => out(`${JSON.stringify(await the(OwnData).of(code), undefined, 2)}\n`));
}

async function erased(code: string, sure: string, { out }: Outlets): Promise<void> {
	if (sure !== code) throw new InputError("invalid-input", "--sure must be the same code once more; nothing was erased.");
	const { Erasure } = await import("../../personal/erasure.js");
	await withServices(async (the) => {
		const cleared = await the(Erasure).erase(code, "office");
		const counts = Object.entries(cleared).map(([what, number]) => `${what} ${number}`);
		out(`${code} is erased: ${counts.join(", ")}. Backups made before still hold her.\n`);
	});
}

type The = <T>(service: abstract new (...of: never[]) => T) => T;

async function withServices(work: (the: The) => Promise<unknown>): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		await work((of) => service.app.get(of as never));
	} finally {
		await service.stop();
	}
}
