import { BlockList, isIP } from "node:net";

/**
 * What isn't the public network: this machine, private networks, the link, shared space of carriers, tests, groups, and what is reserved.
 * Source: IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890), RFC 1918, RFC 3927, RFC 4193, RFC 6598, RFC 5771
 */
const NOT_PUBLIC: readonly string[] = [
	"0.0.0.0/8",
	"10.0.0.0/8",
	"100.64.0.0/10",
	"127.0.0.0/8",
	"169.254.0.0/16",
	"172.16.0.0/12",
	"192.0.0.0/24",
	"192.0.2.0/24",
	"192.168.0.0/16",
	"198.18.0.0/15",
	"198.51.100.0/24",
	"203.0.113.0/24",
	"224.0.0.0/4",
	"240.0.0.0/4",
	"::/128",
	"::1/128",
	// Discard-only, documentation, 6to4 and Teredo, which carry an IPv4 address that isn't looked at, translation to a private IPv4.
	"100::/64",
	"2001::/32",
	"2001:db8::/32",
	"2002::/16",
	"64:ff9b::/96",
	"64:ff9b:1::/48",
	"fc00::/7",
	"fe80::/10",
	"fec0::/10",
	"ff00::/8",
];

/** @returns whether an IP address lies outside of the public network; an IPv4 address written as IPv6 is taken for what it is */
export function isPrivate(address: string): boolean {
	return isWithin(notPublic, address);
}

/** @param ranges such as 10.1.0.0/16, or single addresses */
export function rangesOf(ranges: readonly string[]): BlockList {
	const list = new BlockList();
	for (const range of ranges) {
		const [address = "", bits] = range.split("/");
		const family = isIP(address) === 6 ? "ipv6" : "ipv4";
		list.addSubnet(address, bits === undefined ? (family === "ipv6" ? 128 : 32) : Number(bits), family);
	}
	return list;
}

/** An IPv4-mapped IPv6 address (RFC 4291, section 2.5.5.2), in either way of writing, and the older "compatible" one. */
export function isWithin(list: BlockList, address: string): boolean {
	const bare = address.replace(/%.*$/, "");
	if (isIP(bare) === 4) return list.check(bare, "ipv4");
	if (isIP(bare) !== 6) return false;
	const carried = carriedIpv4(bare);
	return list.check(bare, "ipv6") || (carried !== undefined && list.check(carried, "ipv4"));
}

const notPublic = rangesOf(NOT_PUBLIC);

function carriedIpv4(address: string): string | undefined {
	// The URL parser writes every IPv6 address in one way: the last 32 bits as two groups of hexadecimal digits.
	const canonical = new URL(`http://[${address}]/`).hostname.slice(1, -1);
	const found = /^::(?:ffff:)?([0-9a-f]{1,4}):([0-9a-f]{1,4})$/.exec(canonical);
	if (!found) return undefined;
	const [high, low] = [Number.parseInt(found[1] as string, 16), Number.parseInt(found[2] as string, 16)];
	return [high >> 8, high & 255, low >> 8, low & 255].join(".");
}
