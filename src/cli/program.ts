import { Command, CommanderError } from "commander";
import { InputError } from "../errors/errors.js";

/** Where a command's output goes. */
export interface Outlets {
	readonly out: (text: string) => unknown;
	readonly err: (text: string) => unknown;
	/** Writes a whole file. */
	readonly write: (path: string, text: string) => Promise<void>;
}

/** A command has done what was asked, and what it found is told by the exit code. */
export class Ended extends Error {
	constructor(readonly exitCode: number) {
		super(`ended with ${exitCode}`);
	}
}

/** Puts a command with its options into the program. */
export type AddCommand = (program: Command, outlets: Outlets) => void;

/** What was asked can't be done as asked: the asker can mend it. */
const MISUSED = 2;

/**
 * Runs the command that the arguments name.
 *
 * @param args without the interpreter and the file
 * @returns 0; what a command ended with; 2 where the arguments are wrong, with everything that is wrong written to `err`
 * @throws whatever isn't the asker's to mend
 */
export async function exitCodeOf(args: readonly string[], commands: readonly AddCommand[], outlets: Outlets): Promise<number> {
	const program = new Command("jarwatch")
		.description("Keeps home-made chlorine honest: how strong a jar of bleach is today, when to test it, and how much to dose.")
		.exitOverride()
		.configureOutput({ writeOut: outlets.out, writeErr: outlets.err })
		.showHelpAfterError("Each command tells its options with --help.");
	for (const add of commands) add(program, outlets);
	try {
		await program.parseAsync(args, { from: "user" });
		return 0;
	} catch (error) {
		if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : MISUSED;
		if (error instanceof Ended) return error.exitCode;
		if (!(error instanceof InputError)) throw error;
		outlets.err(`${error.message}\n`);
		return MISUSED;
	}
}
