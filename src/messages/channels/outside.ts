import { isAbsolute, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { z } from "zod";
import { DefectError, InputError } from "../../errors/errors.js";
import type { Log } from "../../log/log.js";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";

/** What a notifier from outside is made from. */
export interface OutsideContext {
	readonly settings: Record<string, string>;
	readonly log: Log;
}

/** Loads a package by its name, or a file by its absolute path. */
export type Load = (specifier: string) => Promise<unknown>;

const importing: Load = (specifier) => import(isAbsolute(specifier) ? pathToFileURL(specifier).href : specifier);

type SendFunction = (message: Outgoing, signal: AbortSignal) => Promise<unknown>;

const shape = z.object({
	name: z.string().regex(/^[a-z][a-z0-9-]{0,40}$/, "must be lower-case letters, digits and dashes"),
	send: z.custom<SendFunction>((value) => typeof value === "function", "must be a function"),
	close: z.custom<() => Promise<void>>((value) => typeof value === "function", "must be a function or left out").optional(),
});

const delivery = z.discriminatedUnion("kind", [
	z.object({
		kind: z.literal("accepted"),
		answer: z.string(),
		channelMessageIds: z
			.array(z.string().regex(/^[\x21-\x7e]{1,200}$/))
			.max(255)
			.optional(),
	}),
	z.object({
		kind: z.literal("refused"),
		reason: z.string(),
		forGood: z.boolean(),
		retryAfterMs: z.number().nonnegative().optional(),
		throttled: z.boolean().optional(),
	}),
]);

/**
 * Makes a notifier out of an npm package or a file whose default export is a function of `{ settings, log }`
 * that returns, or promises, `{ name, send, close? }`.
 * @param named a package's name, or a path that begins with a point or slash, from the working directory
 * @throws InputError `notifier-unknown` where nothing is there, `notifier-refused` where it isn't a notifier
 */
export async function notifierFromOutside(named: string, context: OutsideContext, load: Load = importing): Promise<Notifier> {
	const factory = await factoryOf(named, load);
	let made: unknown;
	try {
		made = await factory(context);
	} catch (error) {
		throw refused(named, "it can't be made with these settings; its own words stand in the cause", error);
	}
	const checked = shape.safeParse(made);
	if (checked.success) return new OutsideNotifier(made as { name: string; send: SendFunction; close?: () => Promise<void> });
	const problems = checked.error.issues.map(({ path, message }) => `${path.join(".") || "it"} ${message}`).join("; ");
	throw refused(named, `what it makes isn't a notifier: ${problems}`);
}

/** Calls another's code, and believes nothing it answers. */
class OutsideNotifier extends Notifier {
	readonly name: string;

	constructor(private readonly made: { name: string; send: SendFunction; close?: () => Promise<void> }) {
		super();
		this.name = made.name;
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		const answered = delivery.safeParse(await this.made.send(message, signal));
		if (!answered.success) throw new DefectError(`the notifier "${this.name}" answered with something that is no delivery`);
		return answered.data as Delivery;
	}

	override async close(): Promise<void> {
		await this.made.close?.();
	}
}

async function factoryOf(named: string, load: Load): Promise<(context: OutsideContext) => unknown> {
	const specifier = /^[./]/.test(named) || isAbsolute(named) ? resolve(named) : named;
	let loaded: unknown;
	try {
		loaded = await load(specifier);
	} catch (error) {
		if (!isMissing(error, specifier)) throw refused(named, "it can't be loaded; the cause says why", error);
		throw new InputError(
			"notifier-unknown",
			`There is no notifier "${named}": none of that name comes with the program, no such package is installed, and no such file is there.`,
			{ cause: error },
		);
	}
	// A CommonJS file that was compiled from `export default` hands its default out inside another.
	const outer = (loaded as { default?: unknown } | undefined)?.default;
	const factory = (outer as { default?: unknown } | undefined)?.default ?? outer;
	if (typeof factory !== "function") throw refused(named, "its default export must be a function that makes a notifier");
	return factory as (context: OutsideContext) => unknown;
}

/** What the package itself lacks is its own fault, and is told apart from the package being absent. */
function isMissing(error: unknown, specifier: string): boolean {
	const { code, message } = error as { code?: unknown; message?: unknown };
	return (code === "ERR_MODULE_NOT_FOUND" || code === "MODULE_NOT_FOUND") && String(message).includes(specifier);
}

function refused(named: string, why: string, cause?: unknown): InputError {
	return new InputError("notifier-refused", `The notifier "${named}" can't be used: ${why}.`, { cause });
}
