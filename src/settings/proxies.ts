import { BlockList, isIP, isIPv4 } from "node:net";

/** @returns the machines of a list of addresses and ranges such as 10.1.0.0/16; undefined where it can't be read */
export function proxiesFrom(text: string): BlockList | undefined {
	const list = new BlockList();
	for (const part of text.split(",").map((one) => one.trim())) {
		const [address = "", bits, ...more] = part.split("/");
		const family = isIPv4(address) ? "ipv4" : "ipv6";
		if (isIP(address) === 0 || more.length > 0) return undefined;
		if (bits === undefined) list.addAddress(address, family);
		else if (/^\d{1,3}$/.test(bits) && Number(bits) <= (family === "ipv4" ? 32 : 128))
			list.addSubnet(address, Number(bits), family);
		else return undefined;
	}
	return list;
}
