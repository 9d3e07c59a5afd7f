import { promisify } from "node:util";
import { brotliCompress, constants, gzip } from "node:zlib";

export type Encoding = "br" | "gzip" | "identity";

const brotli = promisify(brotliCompress);
const gzipped = promisify(gzip);

/** Shorter than this it fits into one packet as it is. */
const WORTH_IT_BYTES = 1000;

/**
 * @param accepted the header field Accept-Encoding
 * @returns the shortest encoding that the client takes. Source: RFC 9110 (2022), section 12.5.3
 */
export function encodingFor(accepted: string | undefined): Encoding {
	const taken = new Set<string>();
	for (const part of (accepted ?? "").toLowerCase().split(",")) {
		const [coding = "", ...parameters] = part.split(";").map((one) => one.trim());
		if (!parameters.some((one) => /^q=0(\.0*)?$/.test(one))) taken.add(coding);
	}
	return taken.has("br") ? "br" : taken.has("gzip") ? "gzip" : "identity";
}

/** A body in an encoding, for a page that is made anew each time: quality 5 is as fast as the page itself. */
export async function encoded(text: string, encoding: Encoding): Promise<{ body: Buffer; encoding: Encoding }> {
	const bytes = Buffer.from(text);
	if (encoding === "identity" || bytes.length < WORTH_IT_BYTES) return { body: bytes, encoding: "identity" };
	return { body: encoding === "br" ? await brotliAt(bytes, 5) : await gzipped(bytes, { level: 6 }), encoding };
}

/** The smallest of a body, for what is made once and served often. */
export async function encodedOnce(bytes: Buffer): Promise<Readonly<Record<Encoding, Buffer>>> {
	return { identity: bytes, gzip: await gzipped(bytes, { level: 9 }), br: await brotliAt(bytes, 11) };
}

function brotliAt(bytes: Buffer, quality: number): Promise<Buffer> {
	const { BROTLI_PARAM_QUALITY, BROTLI_PARAM_SIZE_HINT, BROTLI_PARAM_MODE, BROTLI_MODE_TEXT } = constants;
	return brotli(bytes, {
		params: {
			[BROTLI_PARAM_QUALITY]: quality,
			[BROTLI_PARAM_SIZE_HINT]: bytes.length,
			[BROTLI_PARAM_MODE]: BROTLI_MODE_TEXT,
		},
	});
}
