import { addDoseCard } from "../../src/cli/dose-card/command.js";
import { addForecast } from "../../src/cli/forecast/command.js";
import { exitCodeOf } from "../../src/cli/program.js";

/** What a command line printed, wrote and ended with. */
export async function ran(...args: string[]) {
	const told = { out: "", err: "", files: new Map<string, string>() };
	const outlets = {
		out: (text: string) => {
			told.out += text;
		},
		err: (text: string) => {
			told.err += text;
		},
		write: async (path: string, text: string) => {
			if (path.startsWith("nowhere/")) throw new Error("no such folder");
			told.files.set(path, text);
		},
	};
	return { code: await exitCodeOf(args, [addForecast, addDoseCard], outlets), ...told };
}
