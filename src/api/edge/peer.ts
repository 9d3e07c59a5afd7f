import { BlockList, isIP, isIPv4 } from "node:net";
import type { FastifyRequest } from "fastify";

/** Machines whose word on who they speak for is taken. */
export type Proxies = BlockList | undefined;

/**
 * The address by which tries and requests are counted: the peer's, or, where the peer is a proxy that the settings name, the last one in
 * X-Forwarded-For that isn't one of them. What stands before that, anybody may have written. Who may come in never depends on it.
 */
export function peerOf(request: FastifyRequest, proxies: Proxies): string {
	let peer = request.ip;
	if (!proxies) return peer;
	const told = [request.headers["x-forwarded-for"] ?? []].flat().join(",").split(",");
	for (const address of told.reverse().map((one) => one.trim())) {
		if (!isAmong(peer, proxies) || isIP(address) === 0) return peer;
		peer = address;
	}
	return peer;
}

function isAmong(address: string, proxies: BlockList): boolean {
	const plain = address.replace(/^::ffff:(?=\d+\.)/i, "");
	return isIP(plain) !== 0 && proxies.check(plain, isIPv4(plain) ? "ipv4" : "ipv6");
}
