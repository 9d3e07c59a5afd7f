import { createHash, createHmac, timingSafeEqual } from "node:crypto";
import type { InboundGateway } from "../../settings/channels/inbound.js";

type Headers = Readonly<Record<string, string | string[] | undefined>>;

/**
 * Whether a post shows, before its body is there, that it comes from the gateway.
 * @returns for a signature: whether there is one at all; `isSigned` then looks at it
 */
export function isProven({ proof }: Pick<InboundGateway, "proof">, headers: Headers): boolean {
	if (proof.by === "basic") {
		const given = headers["authorization"];
		const right = `Basic ${Buffer.from(`${proof.user}:${proof.password}`).toString("base64")}`;
		return typeof given === "string" && isSame(given.replace(/^basic +/i, "Basic "), right);
	}
	const given = headers[proof.header];
	if (typeof given !== "string") return false;
	return proof.by === "signature" || isSame(given, proof.secret);
}

/**
 * Whether the signature fits the body, byte for byte as it came.
 * @returns true where the gateway shows itself in another way
 * Source: HMAC as in RFC 2104 (1997), checked with the vectors of RFC 4231 (2005)
 */
export function isSigned({ proof }: Pick<InboundGateway, "proof">, headers: Headers, body: Uint8Array): boolean {
	if (proof.by !== "signature") return true;
	const given = headers[proof.header];
	if (typeof given !== "string" || !given.startsWith(proof.prefix)) return false;
	const right = createHmac(proof.hash, proof.secret).update(body).digest();
	// Another spelling of the same bytes (capital hex, no padding) is the same signature.
	const bytes = Buffer.from(given.slice(proof.prefix.length), proof.encoding);
	return bytes.length === right.length && timingSafeEqual(bytes, right);
}

/** Both are hashed first, so that neither the length nor the place of the first difference can be timed. */
export function isSame(given: string, secret: string): boolean {
	return timingSafeEqual(digest(given), digest(secret));
}

function digest(text: string): Buffer {
	return createHash("sha256").update(text).digest();
}
