import { type Command, Option } from "commander";
import type { z } from "zod";
import { InputError, type Problem } from "../errors/errors.js";
import { suggestion } from "../programme/import/nearest.js";

/** One option of a command: `dayC` is given as `--day-c`. */
export interface OptionSpec<T extends z.ZodType = z.ZodType> {
	/** What stands for its value in the help; none for a switch, `...` at the end for one that may be repeated. */
	readonly placeholder?: string;
	readonly about: string;
	/** Of the text as it was given (texts, for one that may be repeated); what it refuses, it says as "must be ...". */
	readonly schema: T;
	/** Taken where the option isn't given, and marked as assumed in the output. */
	readonly fallback?: string;
}

/** The options of a command by name. */
export type OptionTable = Readonly<Record<string, OptionSpec>>;

/** What the options of a table were read as. */
export type ValuesOf<Table extends OptionTable> = { readonly [Name in keyof Table]: z.output<Table[Name]["schema"]> };

/** Options as read, with the names of those that were left to their defaults. */
export interface ReadOptions<Table extends OptionTable> {
	readonly values: ValuesOf<Table>;
	readonly assumed: ReadonlySet<keyof Table & string>;
}

/** Something that no single option shows to be wrong, by the name of the option that should be mended. */
export interface Disagreement<Table extends OptionTable> {
	readonly at: keyof Table & string;
	readonly message: string;
}

/** @returns `--salt-g-per-l` for `saltGPerL` */
export const flagOf = (name: string): string => `--${name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;

/** Puts the options of a table into a command, and lets everything else through: `readOptions` names all that is wrong at once. */
export function withOptions(command: Command, table: OptionTable): Command {
	command.allowUnknownOption().allowExcessArguments();
	for (const [name, { placeholder, about, fallback }] of Object.entries(table)) {
		const repeats = placeholder?.endsWith("...") ?? false;
		const value = placeholder === undefined ? "" : ` <${repeats ? placeholder.slice(0, -3) : placeholder}>`;
		const option = new Option(`${flagOf(name)}${value}`, fallback === undefined ? about : `${about} (default: ${fallback})`);
		if (repeats) option.argParser((text: string, before: readonly string[] | undefined) => [...(before ?? []), text]);
		command.addOption(option);
	}
	return command;
}

/**
 * The options of a command, each checked by its schema.
 *
 * @param table of the command
 * @param command after it was parsed
 * @param disagreements what is wrong between options that are right by themselves; those that are wrong are absent
 * @returns values, and which of them are defaults
 * @throws InputError `invalid-input` that names every option that isn't right, and what would be
 */
export function readOptions<Table extends OptionTable>(
	table: Table,
	command: Command,
	disagreements: (values: Partial<ValuesOf<Table>>) => readonly Disagreement<Table>[] = () => [],
): ReadOptions<Table> {
	const given = command.opts<Readonly<Record<string, unknown>>>();
	const problems: Problem[] = strayProblems(command.args, Object.keys(table).map(flagOf));
	const values: Record<string, unknown> = {};
	const assumed = new Set<keyof Table & string>();
	for (const [name, { schema, fallback }] of Object.entries(table)) {
		if (given[name] === undefined && fallback !== undefined) assumed.add(name);
		const parsed = schema.safeParse(given[name] ?? fallback);
		if (parsed.success) values[name] = parsed.data;
		else problems.push(...parsed.error.issues.map(({ message }) => ({ at: flagOf(name), message })));
	}
	for (const { at, message } of disagreements(values as Partial<ValuesOf<Table>>)) problems.push({ at: flagOf(at), message });
	if (problems.length > 0) throw misused(problems);
	return { values: values as ValuesOf<Table>, assumed };
}

/** @returns an error that tells all problems, a line each */
export function misused(problems: readonly Problem[]): InputError {
	const lines = problems.map(({ at, message }) => `  ${at} ${message}`).join("\n");
	return new InputError("invalid-input", `This can't be done as asked. Mend these and run it again:\n${lines}`, { problems });
}

const OPTION = /^--?[a-z]/i;

/** What belongs to no option; a word behind an unknown option was meant as its value. */
function strayProblems(args: readonly string[], known: readonly string[]): Problem[] {
	return args.flatMap((arg, i) => {
		if (OPTION.test(arg)) return [{ at: arg, message: `is no option of this command${suggestion(arg, known)}` }];
		return OPTION.test(args[i - 1] ?? "") ? [] : [{ at: `"${arg}"`, message: "belongs to no option; quote a value with spaces" }];
	});
}
