import type { RouteOptions } from "fastify";
import { isRule } from "../../access/rules.js";
import { DefectError } from "../../errors/errors.js";
import type { Access } from "./access.js";
import { namedIn, type Touch } from "./touches.js";

export interface KnownRoute {
	readonly method: string;
	/** With the names of its parameters: `/batches/:code`. */
	readonly pattern: string;
	readonly access: Access;
	/** Which part of the programme it touches; none: it is open, or has a proof of its own. */
	readonly touches: readonly Touch[];
}

/** Routes that a library adds by itself: the files of the documentation page. */
const OF_LIBRARIES: Readonly<Record<string, Access>> = { "/docs/*": "open" };

/** Every address the service answers, as the router itself reports them. */
export class Routes {
	readonly known: KnownRoute[] = [];

	/** @throws DefectError for a route that doesn't say who may use it and what it touches: the service doesn't start with one */
	add(options: Pick<RouteOptions, "method" | "url" | "config">): void {
		const access = options.config?.access ?? OF_LIBRARIES[options.url];
		const touches = options.config?.touches ?? [];
		options.config = { ...options.config, ...(access && { access }) };
		namedIn(touches);
		for (const method of [options.method].flat()) {
			if (!access) throw new DefectError(`the route ${method} ${options.url} doesn't say who may use it`);
			if (isRule(access) && touches.length === 0)
				throw new DefectError(`the route ${method} ${options.url} doesn't say what it touches`);
			this.known.push({ method, pattern: options.url, access, touches });
		}
	}

	/** @returns the methods that are answered at an address, sorted; none where nothing is there */
	methodsAt(url: string): string[] {
		const path = url.split("?", 1)[0] as string;
		const here = this.known.filter(({ pattern }) => fits(pattern.split("/"), path.split("/")));
		return [...new Set(here.map(({ method }) => method))].sort();
	}
}

function fits(pattern: readonly string[], path: readonly string[]): boolean {
	const open = pattern.at(-1) === "*";
	if (open ? path.length < pattern.length : path.length !== pattern.length) return false;
	return pattern.every((part, at) => part === "*" || (part.startsWith(":") ? path[at] !== "" : part === path[at]));
}
