import type { FastifyReply, FastifyRequest } from "fastify";
import type { PersonRole } from "../programme/rows.js";
import type { Html } from "./html.js";
import type { Visitor } from "./visitors.js";
import type { Words } from "./words.js";

/** One request of a page, with all that came with it already read. */
export interface Visit<V extends Visitor | undefined = Visitor> {
	readonly visitor: V;
	readonly words: Words;
	/** Parts of the address that the path names. */
	readonly named: Readonly<Record<string, string>>;
	readonly query: URLSearchParams;
	/** Empty but for a POST. */
	readonly form: URLSearchParams;
	/** The file that the form brought along; none: none was chosen. */
	readonly file: Buffer | undefined;
	readonly nowMs: number;
	/** Whether a script asks for plain values instead of markup. */
	readonly wantsJson: boolean;
	readonly request: FastifyRequest;
	readonly reply: FastifyReply;
}

/** A whole page. */
export interface Shown {
	readonly title: string;
	readonly main: Html;
	readonly status?: number;
	/** Which entry of the navigation it belongs to. */
	readonly here?: string;
	/** For those who lead, though nobody of them is signed in as one of the programme's people. */
	readonly isForStaff?: true;
	/** An origin besides our own from which it may load pictures. */
	readonly picturesFrom?: string;
}

/** What a page answers: itself, another address to look at next, or plain values for the script. */
export type Answer = Shown | { readonly seeOther: string } | { readonly json: unknown; readonly status: number };

interface Route {
	readonly method: "GET" | "POST";
	/** As the router writes it: `/me/tasks/:id`. */
	readonly path: string;
	/** Its form may bring a file along. */
	readonly takesFile?: true;
}

/** A page for whoever is signed in with one of the roles. */
export interface RolePage extends Route {
	readonly roles: readonly PersonRole[];
	answer(visit: Visit): Promise<Answer>;
}

/** A page that needs nobody to be signed in. */
export interface OpenPage extends Route {
	readonly roles: "anybody";
	answer(visit: Visit<Visitor | undefined>): Promise<Answer>;
}

export type Page = RolePage | OpenPage;

/** @returns a page that nobody but people of these roles sees */
export const page = (method: Route["method"], path: string, roles: RolePage["roles"], answer: RolePage["answer"]): RolePage => ({
	method,
	path,
	roles,
	answer,
});

export const openPage = (method: Route["method"], path: string, answer: OpenPage["answer"]): OpenPage => ({
	method,
	path,
	roles: "anybody",
	answer,
});
