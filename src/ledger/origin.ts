import { AsyncLocalStorage } from "node:async_hooks";

const current = new AsyncLocalStorage<string>();

/**
 * Runs something, and every ledger entry that it leaves bears where it came from.
 * @param origin a route with the request's id, a loop, a command; never a person's address or number
 */
export function from<T>(origin: string, work: () => T): T {
	return current.run(origin, work);
}

/** @returns where what runs now came from */
export function currentOrigin(): string {
	return current.getStore() ?? "program";
}
