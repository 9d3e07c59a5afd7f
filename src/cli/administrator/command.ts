import { text } from "node:stream/consumers";
import type { Accounts } from "../../access/accounts.js";
import { InputError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";
import type { AddCommand } from "../program.js";

/** Makes an administrator's account, or gives its holder a new code: the way in where nobody can sign in yet, or any more. */
export const addAdministrator: AddCommand = (program, { out }) => {
	program
		.command("administrator")
		.description("Make the account of an administrator, or give its holder a new code to choose a password with.")
		.argument("<login>", "small letters, digits or . _ -")
		.option("--password-stdin", "take the password from the first line of the input instead of giving a code", false)
		.action(async (login: string, { passwordStdin }: { passwordStdin: boolean }) => {
			const password = passwordStdin ? ((await text(process.stdin)).split(/\r?\n/, 1)[0] ?? "") : undefined;
			out(await withService((accounts, store) => administrator(accounts, store, login, password)));
		});
};

const WHO = "command line";

async function administrator(accounts: Accounts, store: Store, login: string, password: string | undefined): Promise<string> {
	const [{ accountCalled }, { assertGoodPassword }] = await Promise.all([
		import("../../access/account.js"),
		import("../../access/passwords.js"),
	]);
	if (password !== undefined) await assertGoodPassword(password, "--password-stdin", [login]);
	const known = await accountCalled(store, login);
	if (known && !known.administrator)
		throw new InputError("conflict", `${known.login} is an account that is no administrator's; choose another login.`);
	const code = known
		? await accounts.newLink(known.id, WHO)
		: (await accounts.create({ login, personId: null, administrator: true }, WHO)).code;
	if (code === null) return "A code to choose a password with was sent to the holder of the account.\n";
	if (password === undefined)
		return `${code}\n\nWith this code the administrator chooses a password, once and within three days, on the page /password or by\nPOST /password with {"code": "...", "password": "..."}. From then on this machine by itself is trusted no more.\n`;
	await accounts.choose(code, password, WHO);
	return "The administrator can sign in with this password. From now on this machine by itself is trusted no more.\n";
}

async function withService(work: (accounts: Accounts, store: Store) => Promise<string>): Promise<string> {
	const [{ newLog }, { preparedService }, { settingsFrom }, { Accounts: Service }, { Store: Opened }] = await Promise.all([
		import("../../log/log.js"),
		import("../../service.js"),
		import("../../settings/settings.js"),
		import("../../access/accounts.js"),
		import("../../store/store.js"),
	]);
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		return await work(service.app.get(Service), service.app.get(Opened));
	} finally {
		await service.stop();
	}
}
