import { isIP } from "node:net";

/** Which addresses of private networks webhooks and gateways may lead to. */
export type PrivateAddresses = "allowed" | "refused" | readonly string[];

/** A host's name, or a range as 10.1.0.0/16 or fd00:1::/32. */
const HOST = /^(?=.{1,253}$)[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?(\.[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?)*$/;

/**
 * Reads `allowed`, `refused`, or a list of hosts, addresses and ranges, separated by commas.
 * @returns undefined where a part is none of these
 */
export function privateAddressesFrom(text: string): PrivateAddresses | undefined {
	const parts = text
		.split(",")
		.map((part) => part.trim().toLowerCase())
		.filter((part) => part !== "");
	if (parts.length === 1 && (parts[0] === "allowed" || parts[0] === "refused")) return parts[0];
	return parts.length > 0 && parts.every(isHostOrRange) ? parts : undefined;
}

function isHostOrRange(part: string): boolean {
	const [address = "", bits, more] = part.split("/");
	const family = isIP(address);
	if (bits === undefined) return family !== 0 || (HOST.test(part) && !["allowed", "refused"].includes(part));
	return family !== 0 && more === undefined && /^\d{1,3}$/.test(bits) && Number(bits) <= (family === 4 ? 32 : 128);
}
