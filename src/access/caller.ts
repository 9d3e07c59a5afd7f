import { OFFICE } from "../ledger/acting.js";
import { Reach } from "./reach.js";
import type { Role, Scope } from "./rules.js";

/** Who asks: one typed value for each request, for every handler and page. */
export interface Caller {
	/** As the ledger names her: a person's id, an account, a key. */
	readonly actor: string;
	readonly personId: string | null;
	readonly personCode: string | null;
	readonly accountId: string | null;
	/** None: she didn't sign in, but came with a key or sits at the machine. */
	readonly sessionId: string | null;
	readonly roles: readonly Role[];
	/** Of a key; a session has none. */
	readonly scopes: readonly Scope[];
	readonly reach: Reach;
}

/** Whoever has the key of the settings, or sits at a machine that nobody else can reach. */
export function officeCaller(): Caller {
	return {
		actor: OFFICE,
		personId: null,
		personCode: null,
		accountId: null,
		sessionId: null,
		roles: ["administrator"],
		scopes: [],
		reach: new Reach("whole"),
	};
}
