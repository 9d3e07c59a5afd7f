import { AsyncLocalStorage } from "node:async_hooks";

/** Somebody at the office whose name nobody gave: who has the key of the settings, or sits at the machine itself. */
export const OFFICE = "office";

const acting = new AsyncLocalStorage<string>();

/** Does work in somebody's name: what it writes into the ledger names her, whatever it knows of her itself. */
export function actingAs<T>(actor: string, work: () => T): T {
	return acting.run(actor, work);
}

/**
 * Who stands in the ledger for a change.
 * @param said what the part of the program that changes something knows: a person whom the request named, itself, or OFFICE
 * @returns the caller in whose name it works, instead of OFFICE; and where another was named, that the caller entered it for her
 */
export function actorOf(said: string): { readonly actor: string; readonly enteredBy?: string } {
	const who = acting.getStore();
	if (who === undefined || who === said || who === OFFICE) return { actor: said };
	return said === OFFICE ? { actor: who } : { actor: said, enteredBy: who };
}
