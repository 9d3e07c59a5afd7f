import { brotliDecompressSync, gunzipSync } from "node:zlib";
import { encoded, encodedOnce, encodingFor } from "../../src/pages/encoded.js";

describe("the encoding of pages", () => {
	it.each([
		[undefined, "identity"],
		["", "identity"],
		["gzip", "gzip"],
		["gzip, deflate, br, zstd", "br"],
		["br;q=0, gzip;q=0.5", "gzip"],
		["BR", "br"],
		["deflate", "identity"],
		["gzip;q=0.000", "identity"],
	])("of Accept-Encoding %s is %s (RFC 9110, section 12.5.3)", (accepted, encoding) => {
		expect(encodingFor(accepted)).toBe(encoding);
	});

	it("is undone to the same bytes, and leaves what fits into one packet as it is", async () => {
		const text = "Jar FIG-J12 ".repeat(200);
		expect(brotliDecompressSync((await encoded(text, "br")).body).toString()).toBe(text);
		expect(gunzipSync((await encoded(text, "gzip")).body).toString()).toBe(text);
		expect(await encoded("short", "br")).toEqual({ body: Buffer.from("short"), encoding: "identity" });
		const once = await encodedOnce(Buffer.from(text));
		expect(brotliDecompressSync(once.br)).toEqual(gunzipSync(once.gzip));
	});
});
